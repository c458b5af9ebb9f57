"use strict";
// The live panel: moves what was computed when the sheet was made, and computes nothing anew.
(function () {
  const source = document.getElementById("live-data");
  if (!source) {
    return;
  }
  const data = JSON.parse(source.textContent);
  const byId = function (id) {
    return document.getElementById(id);
  };
  const travelInput = byId("live-travel");
  const partInput = byId("live-part");
  const valueInput = byId("live-value");
  const ways = byId("live-ways");
  const radios = Array.from(document.querySelectorAll("input[name=live-way]"));
  const labels = Array.from(new Set(data.turns.map((turn) => turn.label)));
  const atNode = Array.from(document.querySelectorAll("#drawing .netcheck-schematic-volts"));
  const atValve = Array.from(document.querySelectorAll("#drawing .netcheck-schematic-read"));
  const field = data.field;
  const last = data.travel.length - 1;

  // ------------------------------------------------------------------------- numbers

  // Whole numbers from the first, the first difference and second differences.
  const unpacked = function (packed) {
    const found = [packed[0]];
    let step = 0;
    for (let k = 1; k < packed.length; k += 1) {
      step += packed[k];
      found.push(found[k - 1] + step);
    }
    return found;
  };

  const unpackedAll = function (series) {
    return series.map((packed, k) => unpacked(packed).map((whole) => whole * data.steps[k]));
  };

  const base = unpackedAll(data.base);

  // Between the positions: the polynomial through the six that are nearest.
  const between = function (values, travel) {
    if (last === 0) {
      return values[0];
    }
    const place = (travel / 100) * last;
    const count = Math.min(6, last + 1);
    const first = Math.min(Math.max(Math.floor(place) - 2, 0), last + 1 - count);
    let sum = 0;
    for (let j = first; j < first + count; j += 1) {
      let weight = 1;
      for (let k = first; k < first + count; k += 1) {
        if (k !== j) {
          weight *= (place - k) / (j - k);
        }
      }
      sum += weight * values[j];
    }
    return sum;
  };

  const PREFIXES = { V: [["", 0.1], ["m", 1e-4]], A: [["", 1], ["m", 1e-4]], W: [["", 0.1], ["m", 0]] };

  // Three figures and a prefix, as everywhere on the sheet: "-35.5 V", "21.6 mA".
  const shown = function (value, unit) {
    if (unit === "V" && Math.abs(value) < 5e-3) {
      return "0 V";
    }
    const size = Math.abs(Number(value.toPrecision(3)));
    const found = PREFIXES[unit].find((prefix) => size >= prefix[1]) || ["u", 0];
    const scaled = value * { "": 1, m: 1e3, u: 1e6 }[found[0]];
    return `${figures(scaled)} ${found[0]}${unit}`;
  };

  const figures = function (value) {
    const text = value.toPrecision(3);
    return text.indexOf("e") < 0 ? text : String(Number(text));
  };

  const word = function (share, low, high) {
    const percent = Math.round(share * 100);
    if (percent > 100) {
      return "\u25a0 over the limit";
    }
    if (percent > Math.round(high * 100)) {
      return "\u25b2 too hot";
    }
    return percent >= Math.round(low * 100) ? "\u2713 in the window" : "\u25bc too cold";
  };

  // ------------------------------------------------------------------- what is set

  const turned = function () {
    const label = partInput && partInput.value !== "" ? labels[Number(partInput.value)] : null;
    if (label === null) {
      return null;
    }
    const across = radios.some((radio) => radio.checked && radio.value === "across");
    const own = data.turns.filter((turn) => turn.label === label);
    return own.find((turn) => turn.across === across) || own[0];
  };

  const travelSet = function () {
    return travelInput ? Number(travelInput.value) : data.travel[0];
  };

  // A part was chosen, or the other way to put the box: begin with what is drawn.
  const begin = function () {
    const turn = turned();
    ways.disabled = turn === null;
    valueInput.disabled = turn === null;
    valueInput.max = turn === null ? "1" : String(turn.values.length - 1);
    valueInput.value = turn === null ? "0" : String(turn.home);
    show();
  };

  const reset = function () {
    if (travelInput) {
      travelInput.value = "50";
    }
    if (partInput) {
      partInput.value = "";
      radios.forEach((radio) => {
        radio.checked = radio.value === "across";
      });
      begin();
    } else {
      show();
    }
  };

  // ------------------------------------------------------------------- what is shown

  const write = function (id, text) {
    const place = byId(id);
    if (place && place.textContent !== text) {
      place.textContent = text;
    }
  };

  const x = function (travel) {
    return field.left + (travel / 100) * (field.right - field.left);
  };

  const y = function (volts) {
    const inside = Math.min(Math.max(volts, field.low), field.high);
    return field.top + ((field.high - inside) / (field.high - field.low)) * (field.bottom - field.top);
  };

  const showGrid = function (series, grid, k, travel) {
    const values = series[grid.series];
    const volts = between(values, travel);
    const curve = byId(`live-curve-${k}`);
    if (curve) {
      const points = [];
      for (let at = 0; at <= 100; at += 2) {
        points.push(`${x(at).toFixed(1)},${y(between(values, at)).toFixed(1)}`);
      }
      curve.setAttribute("points", points.join(" "));
    }
    const spot = byId(`live-spot-${k}`);
    const where = last === 0 ? 50 : travel;
    spot.setAttribute("cx", x(where).toFixed(3));
    spot.setAttribute("cy", y(volts).toFixed(3));
    const label = byId(`live-label-${k}`);
    const valve = data.valves.find((one) => one.grid === grid.series);
    const current = valve ? `, ${shown(between(series[valve.current], travel), "A")}` : "";
    const isRight = where > 60;
    label.setAttribute("x", (x(where) + (isRight ? -10 : 10)).toFixed(1));
    label.setAttribute("y", Math.max(y(volts) - 10, field.top + 12).toFixed(1));
    label.setAttribute("text-anchor", isRight ? "end" : "start");
    label.textContent = `${data.grids.length > 1 ? `${grid.names.join(", ")} ` : ""}${shown(volts, "V")}${current}`;
    write(`live-grid-${k}`, shown(volts, "V"));
  };

  const showValve = function (series, valve, k, travel) {
    const power = between(series[valve.power], travel);
    const share = power / valve.limit;
    const percent = `${(share * 100).toFixed(0)} % of ${valve.limit} W`;
    write(`live-current-${k}`, shown(between(series[valve.current], travel), "A"));
    write(`live-power-${k}`, `${shown(power, "W")}, ${percent}: ${word(share, valve.low, valve.high)}`);
  };

  const show = function () {
    const travel = travelSet();
    const turn = turned();
    const row = turn === null ? null : turn.values[Number(valueInput.value)];
    const series = row === null || row.series === null ? base : unpackedAll(row.series);
    if (travelInput) {
      travelInput.setAttribute("aria-valuetext", `${travel} %`);
      write("live-travel-text", `${travel} %`);
    }
    if (valueInput) {
      const told = row === null ? "all as drawn" : row.text;
      valueInput.setAttribute("aria-valuetext", told);
      write("live-value-text", told);
    }
    const pots = travelInput ? `${data.pots.join(", ")} at ${travel} %, ` : "";
    write("live-caption", `${data.caption} ${pots}${row === null ? "all else as drawn" : row.text}.`);
    data.grids.forEach((grid, k) => showGrid(series, grid, k, travel));
    data.valves.forEach((valve, k) => showValve(series, valve, k, travel));
    atValve.forEach((place) => {
      const part = place.closest("[data-part]");
      const valve = part && data.valves.find((one) => one.names.includes(part.dataset.part));
      if (valve) {
        place.textContent = shown(between(series[valve.current], travel), "A");
      }
    });
    atNode.forEach((place) => {
      const k = data.nodes[place.dataset.node];
      if (k !== undefined) {
        place.textContent = shown(between(series[k], travel), "V");
      }
    });
  };

  // ------------------------------------------------------------------------- begin

  if (travelInput) {
    travelInput.addEventListener("input", show);
  }
  if (partInput) {
    partInput.addEventListener("change", begin);
    radios.forEach((radio) => radio.addEventListener("change", begin));
    valueInput.addEventListener("input", show);
  }
  byId("live-reset").addEventListener("click", reset);
  byId("live-panel").hidden = false;
  reset();
})();

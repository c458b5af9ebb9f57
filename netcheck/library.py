"""netcheck for notebooks and scripts: the same answers as the commands, as objects.

    import netcheck
    amplifier = netcheck.load("two-6v6gt-foot")
    bias = amplifier.predict()
    bias                                              # shows itself: curve and tables
    matplotlib.pyplot.plot(bias.travel, bias.nodes["grid1"])

What the user got wrong is raised as `InputError`, whose `findings` have places; a simulation
that cannot answer as `EngineError`.
"""

from __future__ import annotations

import functools
import html
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Generic, Literal, TypeVar

from .changes import read_changes
from .commands.common import load as load_circuit
from .commands.sheets import load_sheet, stages_of, this_year
from .commands.whatif import window_for
from .engine.service import Service, default_service
from .errors import InputError
from .graph import Section
from .predictor import Predictor
from .terminal import CAUTION

if TYPE_CHECKING:
    from .compare import Comparison
    from .diagnose.account import Account
    from .netlist import Circuit
    from .readings import Reading, Sheet, Stage
    from .readout.model import SectionModel
    from .remedy.study import Remedies
    from .survey import Survey
    from .travel import Prediction

__all__ = ["Amplifier", "Shown", "load"]

T_co = TypeVar("T_co", covariant=True)


@dataclass(frozen=True)
class Shown(Generic[T_co]):
    """An answer that shows itself: as a picture and tables in a notebook, else as text.

    What the answer holds can be had from it directly: `bias.travel` is `bias.found.travel`.

    Parameters
    ----------
    found : object
        The answer, with its numbers in SI units; see its class.
    text : str
        As the command prints it, lines of at most 80 characters.
    data : dict or list
        As the command's `--json` has it; its schema is that of `netcheck schema`.
    picture : callable or None
        Makes the SVG; None where there is nothing to draw.
    """

    found: T_co
    text: str
    data: Any
    picture: Callable[[], str] | None = None

    def __getattr__(self, name: str) -> Any:
        if name.startswith("_"):  # such as the questions that a notebook asks of every object
            raise AttributeError(name)
        return getattr(self.found, name)

    def __repr__(self) -> str:
        return self.text

    def _repr_svg_(self) -> str | None:
        return None if self.picture is None else self.picture()

    def _repr_html_(self) -> str:
        svg = "" if self.picture is None else _element(self.picture())
        return f"{svg}<pre>{html.escape(self.text)}</pre>"


class Amplifier:
    """The bias section of an amplifier.

    Parameters
    ----------
    circuit : Circuit
        As drawn.
    changes : mapping of parameter name to float
        What differs from the drawing, see `changed`. [SI unit]
    service : Service, optional
        The running simulator; by default one that all share.
    """

    def __init__(self, circuit: Circuit, changes: Mapping[str, float] | None = None,
                 service: Service | None = None) -> None:  # fmt: skip
        self.circuit = circuit
        self.section = Section(circuit)
        self.changes = dict(changes or {})
        self._service = service or default_service()

    def __repr__(self) -> str:
        parts = len(self.circuit.parts)
        changed = f", changed: {', '.join(self.changes)}" if self.changes else ""
        return f"<{self.circuit.title or 'untitled'}: {parts} parts{changed}>"

    def _repr_svg_(self) -> str:
        from .report.schematic import schematic_svg  # noqa: PLC0415 - only if it is shown

        return schematic_svg(self.section)

    def changed(self, *texts: str) -> Amplifier:
        """The same with other values fitted.

        Parameters
        ----------
        *texts : str
            As on the command line: "R3=33k", "C1.leak=100k".

        Raises
        ------
        InputError
            For a part or a value that cannot be.
        """
        more = read_changes(self.circuit, texts)
        return Amplifier(self.circuit, {**self.changes, **more}, self._service)

    def check(self) -> Shown[Survey]:
        """What is wrong with the section, on paper and at its worst corner."""
        from .report.data import check_data  # noqa: PLC0415 - each report only if it is asked for
        from .report.survey import render_survey  # noqa: PLC0415
        from .survey import survey  # noqa: PLC0415

        found = survey(self.circuit, self.circuit.source.name, self._service)
        return Shown(found, render_survey(found), check_data([found])[0])

    def predict(self, **options: Any) -> Shown[Prediction]:
        """The grid voltages and idle currents over the travel of the pot.

        Parameters
        ----------
        **options
            Those of `netcheck.travel.predict`: `travel`, `pots`, `fixed`, `meter`, `window`,
            `samples`, `seed`.
        """
        from .report.data import prediction_data  # noqa: PLC0415
        from .report.picture import travel_svg  # noqa: PLC0415
        from .report.prediction import render_prediction  # noqa: PLC0415
        from .travel import predict  # noqa: PLC0415

        if not self.section.watched:
            raise InputError("there is neither a valve nor a pot whose bias to predict")
        found = predict(self._predictor(), **options)
        return Shown(found, _cautioned(render_prediction(found)), prediction_data(found),
                     functools.partial(travel_svg, found))  # fmt: skip

    def compare(self, readings: str, stage: Literal["found", "left"] | None = None
                ) -> Shown[Comparison]:  # fmt: skip
        """A sheet of readings held against what the section should give.

        Parameters
        ----------
        readings : str
            The sheet's file, or an example's name.
        stage : {"found", "left"}, optional
            Which readings; by default as found, if there are any.
        """
        from .compare import compare, curves  # noqa: PLC0415
        from .report.comparison import StageComparison, render_comparison  # noqa: PLC0415
        from .report.comparisondata import comparison_data  # noqa: PLC0415
        from .report.comparisonpicture import comparison_svg  # noqa: PLC0415

        sheet, picked = self._sheet(readings, stage)
        own, model = list(sheet.at(picked)), self._model
        found = compare(model, own, this_year())
        one = StageComparison(picked, found, tuple(curves(model, own, this_year())))
        picture = functools.partial(comparison_svg, [one]) if one.curves else None
        following = {picked: f"diagnose({readings!r})"}
        text = render_comparison([one], readings, following)
        return Shown(found, text, comparison_data([one], []), picture)

    def diagnose(self, readings: str, stage: Literal["found", "left"] | None = None
                 ) -> Shown[Account]:  # fmt: skip
        """The part that explains a sheet of readings; arguments as `compare`."""
        from .diagnose.account import account  # noqa: PLC0415
        from .report.diagnosis import render_diagnosis  # noqa: PLC0415
        from .report.diagnosisdata import diagnosis_data  # noqa: PLC0415

        sheet, picked = self._sheet(readings, stage)
        found = account(self._model, list(sheet.at(picked)), sheet.meters[0], this_year())
        return Shown(found, render_diagnosis(found, readings), diagnosis_data(found))

    def remedy(self, readings: str | None = None, *,
               stage: Literal["found", "left"] | None = None, window: str | None = None
               ) -> Shown[Remedies]:  # fmt: skip
        """What to solder in so that the idle current wanted can be set.

        Parameters
        ----------
        readings : str, optional
            A sheet: then it begins with the section as diagnosed.
        stage : {"found", "left"}, optional
            Which readings.
        window : str, optional
            Plate dissipation wanted, such as "60-70%".
        """
        from .remedy.start import as_diagnosed, as_drawn  # noqa: PLC0415
        from .remedy.study import remedies  # noqa: PLC0415
        from .report.remedy import render_remedies  # noqa: PLC0415
        from .report.remedydata import remedy_data  # noqa: PLC0415

        if self.changes:
            raise InputError("a remedy begins with the drawing: write the change into the circuit")
        start = as_drawn(self.circuit)
        if readings is not None:
            from .diagnose.diagnosis import diagnose  # noqa: PLC0415

            sheet, picked = self._sheet(readings, stage)
            own: list[Reading] = list(sheet.at(picked))
            diagnosis = diagnose(self._model, own, this_year())
            start = as_diagnosed(self.circuit, self._service, diagnosis, own)
        found = remedies(start, self._service, _silent, window=window_for(window))
        return Shown(found, render_remedies(found), remedy_data(found))

    def _predictor(self) -> Predictor:
        """A new one each time: what one has answered before must not colour the next answer."""
        return Predictor(self.section, self._service, self.changes)

    def _sheet(self, name: str, stage: str | None) -> tuple[Sheet, Stage]:
        sheet, _ = load_sheet(name, self.section)
        return sheet, stages_of(sheet, name, stage)[0]

    @functools.cached_property
    def _model(self) -> SectionModel:
        from .readout.model import SectionModel  # noqa: PLC0415

        return SectionModel(self._predictor())


def load(name: str) -> Amplifier:
    """Read a circuit file, or the example of that name.

    Parameters
    ----------
    name : str
        The file, such as "my-amp.bias".

    Raises
    ------
    InputError
        With every error of the file, as `findings`; the text of the exception shows them.
    """
    try:
        return Amplifier(load_circuit(name))
    except InputError as error:
        if not error.findings:
            raise
        from .report.findings import render  # noqa: PLC0415 - only on the way to an error

        raise InputError(f"{error}\n{render(error.findings)}", error.findings) from None


def _silent(what: str, done: int, total: int) -> None:
    """Say nothing of how far the work has come."""


def _cautioned(text: str) -> str:
    from .report.tables import paragraph  # noqa: PLC0415

    return f"{text}\n\n" + "\n".join(paragraph(CAUTION))


def _element(svg: str) -> str:
    """The <svg> element of a file, to stand within a page."""
    return svg[svg.index("<svg") :]

"""A circuit and a sheet of readings, invented, whose names and notes are HTML and script.

Names hold neither blanks nor quotes, notes and titles no quotes: what can be done without them is
done here. Whatever runs sets `window.hacked`.
"""

from __future__ import annotations

NODE = "<img/src=x/onerror=hacked=1>"
POT = "RV1</option></select><script>hacked=1</script>"
PART = "R3</script><script>hacked=1</script>"
TITLE = "</title></script><script>hacked=1</script>"
NOTE = "--><svg/onload=hacked=1>&lt;b&gt;"
METER = "dmm'-hacked=1-'"
JOB = "\"><script>hacked=1</script><a href='javascript:hacked=1'>{{ 7 * 7 }}"

CIRCUIT = f"""# {TITLE}
circuit "{TITLE}"
supply    S1      plus ground  minus raw   60 V  source 100 ohm  5%  note "{NOTE}"
resistor  R2      from raw to head         56k  5%  0.5 W  note "{NOTE}"
pot       {POT}   top head  wiper {NODE}  bottom foot  10k  10%  audio  clockwise bottom
resistor  {PART}  from foot to ground      27k  5%  0.5 W
resistor  R6      from head to {NODE}      220k  5%  0.5 W
resistor  R4      from {NODE} to grid1     68k  5%  0.5 W
resistor  R5      from {NODE} to grid2     68k  5%  0.5 W
valve     V1&amp   6V6GT  grid grid1  plate 330 V  screen 285 V  cathode 1 ohm
valve     V2<b>   6V6GT  grid grid2  plate 330 V  screen 285 V  cathode 1 ohm
"""

READINGS = f"""# {TITLE}
readings for "{TITLE}.bias"
meter {METER}  10M  dcv 0.5% + 2 digits  range 200 V resolution 0.1 V  ohms 0.8% + 1 digit
note "{NOTE}"
as found
  {POT} at middle
    {NODE}   -20.3 V  note "{NOTE}"
    V1&amp   cathode 33.0 mA  plate 331 V
    V2<b>    cathode 35.1 mA  plate 331 V
  power off  discharged
    {PART}   20.2k
as left
  {POT} at middle
    {NODE}   -23.2 V
    V1&amp   cathode 24.0 mA
    V2<b>    cathode 25.2 mA
  power off  discharged
    {PART}   26.9k
"""

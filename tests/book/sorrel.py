"""A small, sound book about an invented device, and changed copies of it."""

SAMPLE = """\
book: 1
board: {name: Sorrel P2 main board, device: Sorrel P2 pump controller, revision: C}
licence: CC-BY-SA-4.0
currency: EUR
people:
  ada: {name: Ada Quill, roles: [investigation]}
instruments:
  leak-jig: Holds the board under water pressure.
setups:
  case-open: {takes: 5 min}
  shield-off: {takes: 4 min, after: case-open, ruins: 0.5 %}
conditions:
  rail: {title: 5 V rail, at: TP5, states: [normal, shorted, missing]}
  valve: {at: connector J2, states: [normal, stuck]}
  hum: {at: the case, states: [quiet, humming]}
checks:
  rail-ohms:
    reads: rail
    how: Board off. Red lead on TP5.
    measures: resistance
    takes: 2 min
    needs: [case-open, multimeter]
    shows: {normal: 2.2 kohm ± 30 %, shorted: below 15 ohm, missing: like normal}
  rail-volts:
    reads: rail
    only after: {rail-ohms: not shorted}
    how: Supply at 12 V. Red lead on TP5.
    measures: voltage
    takes: 3 min
    needs: [shield-off, multimeter, bench-supply]
    shows: {normal: 5 V ± 3 %, missing: below 0.5 V, shorted: below 0.2 V}
  valve-ohms:
    reads: valve
    how: Both leads on J2.
    measures: resistance
    takes: 1 min
    shows: {normal: 40 ohm ± 10 %, stuck: above 1 Mohm}
  listen:
    reads: hum
    how: Put an ear to the case.
    results: [hum, silence]
    takes: 1 min
    shows: {humming: {hum: 95 %}, quiet: {silence: 9 of 10}}
faults:
  c3-short:
    title: Capacitor C3 shorted
    part: {ref: C3, class: capacitor}
    causes: {rail: {shorted: 97 %}}
  u4-dead: {causes: {rail: {missing: 90 %}, hum: {humming: usually}}}
  l2-coil: {causes: {valve: {stuck: 99 %}}}
fixes:
  replace-c3: {cures: {c3-short: 96 %}, how: Iron 350 °C., takes: 12 min, needs: [case-open, soldering-iron], parts: [{title: 10 µF, price: 0.20}]}
  replace-u4: {cures: {u4-dead: 90 %}, how: Iron 360 °C., takes: 30 min, needs: [shield-off, soldering-iron]}
  replace-l2: {cures: {l2-coil: 95 %}, how: Pull the old one off., takes: 9 min, needs: [leak-jig]}
complaints:
  no-flow:
    title: No water
    retest: {how: Open the tap., takes: 2 min}
    seen: {boards: 30, faults: {c3-short: 9, u4-dead: 6, l2-coil: 11}}
"""


def changed(*changes: tuple[str, str]) -> str:
    """Return the sample with each first text replaced by the second; all of them must be there."""
    text = SAMPLE
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new)
    return text

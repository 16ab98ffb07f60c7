"""A small board with an intermittent complaint."""

BOOK = """
book: 1
board: {name: Ferrol P1 main board, device: Ferrol P1 pump controller}
licence: CC0-1.0
currency: EUR
conditions:
  interval: {at: restart log, states: [irregular, fixed]}
checks:
  rhythm:
    title: Even intervals?
    reads: interval
    how: Ask.
    results: [even, uneven]
    takes: 0 min
    shows: {fixed: {even: 90 %}, irregular: {even: 10 %}}
    from record: {even: fixed, uneven: others}
faults:
  timer: {title: Supervisor hears nothing, causes: {interval: {fixed: 95 %}}, about every: 3 min}
  joint: {title: Cracked joint, about every: 40 min}
fixes:
  wire-timer: {title: Wire the supervisor, cures: {timer: 90 %}, how: Solder., takes: 10 min}
  reflow-joint: {title: Reflow the joint, cures: {joint: 80 %}, how: Flux and hot air., takes: 10 min, cautions: [hot air]}
complaints:
  restarts:
    title: Restarts by itself
    intermittent: {about every: 25 min}
    retest: {takes: 3 min, soak: 60 min, cautions: [lithium]}
    worth: 120
    seen: {boards: 20, faults: {timer: 8, joint: 10}}
  dead: {title: Does nothing, retest: {takes: 1 min}, worth: 120, seen: {boards: 5, faults: {joint: 5}}}
"""

SUPERVISOR = "".join(f"2026-11-26 10:{3 * k:02}:{k % 3:02} boot\n" for k in range(12))
"""A log of restarts every three minutes, to a second or two."""

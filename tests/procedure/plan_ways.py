"""Every way through a procedure, as a technician would report it; shared by the tests of the next step."""

from benchlore.model import Evidence
from benchlore.procedure import RELEASE, STILL_THERE, Kind


def ways(procedure):
    """Yield every way through a procedure: readings, failed fixes and the step reached."""
    stack = [((), (), procedure.steps[0])]
    while stack:
        readings, failed, step = stack.pop()
        yield readings, failed, step
        for result, target in step.branches.items():
            if target == RELEASE or step.chances[result] == 0:
                continue
            if step.kind is Kind.CHECK:
                stack.append(((*readings, (step.action, result)), failed, procedure.steps[target]))
            else:
                assert result == STILL_THERE
                stack.append((readings, (*failed, step.action), procedure.steps[target]))


def indexed(model, readings, failed):
    names = [check.name for check in model.checks]
    fixes = [fix.name for fix in model.fixes]
    return Evidence(
        tuple((names.index(c), model.checks[names.index(c)].results.index(r)) for c, r in reversed(readings)),
        failed=tuple(fixes.index(name) for name in failed),
    )

"""What stands on the site beside boards: the skills pages, and who is credited for the library."""

from collections.abc import Iterable, Mapping

from benchlore.book import CAUTIONS
from benchlore.library import BookPeople, Library, Skill, credits_of, skills_of
from benchlore.press.site.noted import Named, digest_of
from benchlore.press.site.paths import CREDITS, SKILLS, skill_page
from benchlore.press.site.set_page import set_page
from benchlore.press.site.values import BoardEntry, Frame, Head, Link
from benchlore.press.text import person_line, printable
from benchlore.units import counted


def skill_links(library: Library) -> tuple[Link, ...]:
    """Lead to the skills pages, where there are any."""
    return (Link(SKILLS, "Skills"),) if skills_of(library) else ()


def skill_files(frame: Frame, library: Library) -> Mapping[str, bytes]:
    """Make the skills pages and their list; a page with errors is left out, as review says."""
    skills = skills_of(library)
    if not skills:
        return {}
    head = Head(
        path=SKILLS,
        title="Skills",
        description=f"{counted(len(skills), 'page')} on what a technician has to be able to do on any board.",
    )
    pages = {skill_page(skill.name): _skill(frame, skill) for skill in skills}
    listed = [(skill_page(skill.name), skill) for skill in skills]
    return {SKILLS: set_page(frame, head, "skills.html", listed=listed), **pages}


def _skill(frame: Frame, skill: Skill) -> bytes:
    head = Head(
        path=skill_page(skill.name),
        title=skill.title,
        description=f"{skill.title}: how it is done, and where that is from.",
        licence=skill.licence,
        credits=tuple(map(person_line, skill.people.values())),
    )
    cautions = tuple(CAUTIONS[hazard] for hazard in skill.hazards)
    return set_page(frame, head, "skill.html", skill=skill, cautions=cautions)


def skills_noted(library: Library) -> dict[str, Named]:
    """Note the skills pages, by their names, for the next edition to compare."""
    return {skill.name: Named(printable(skill.title), digest_of(skill)) for skill in skills_of(library)}


def credit_links(_library: Library) -> tuple[Link, ...]:
    """Lead to the credits from every page."""
    return (Link(CREDITS, "Credits"),)


def credit_files(frame: Frame, library: Library, boards: Iterable[BoardEntry]) -> Mapping[str, bytes]:
    """Make the page that says who did what."""
    head = Head(
        path=CREDITS, title="Credits", description="Who wrote, investigated and recorded what is here."
    )
    books = [BookPeople(each.board, each.title, each.credited) for each in boards]
    return {CREDITS: set_page(frame, head, "credits.html", credits=credits_of(library, books))}

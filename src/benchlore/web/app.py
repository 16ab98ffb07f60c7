"""The app: routes, templates and guards put together."""

from typing import Final

from fastapi import FastAPI, Security
from fastapi.security import APIKeyCookie
from fastapi.staticfiles import StaticFiles

from benchlore import __version__
from benchlore.library import Accounts, Desk, Library, Sessions
from benchlore.web.access import Access
from benchlore.web.answers import failing
from benchlore.web.bench import router as bench
from benchlore.web.bench_api import router as bench_api
from benchlore.web.bench_job import router as bench_job
from benchlore.web.books import ProofPages
from benchlore.web.books import router as books
from benchlore.web.books_api import router as books_api
from benchlore.web.editor import router as editor
from benchlore.web.failures import add_failures
from benchlore.web.front import THIS_MACHINE, Front
from benchlore.web.guard import add_guards
from benchlore.web.home import router as home
from benchlore.web.intake import prepare as prepare_intake
from benchlore.web.intake import router as intake
from benchlore.web.jobs import router as jobs
from benchlore.web.looks import STATIC
from benchlore.web.looks import router as looks
from benchlore.web.people import router as people
from benchlore.web.records_api import router as records_api
from benchlore.web.shelf import router as shelf
from benchlore.web.shelf_api import router as shelf_api
from benchlore.web.sign_in import router as sign_in
from benchlore.web.throttle import Throttle

SIGNED_IN: Final = Security(
    APIKeyCookie(
        name="benchlore",
        scheme_name="session",
        description="The cookie that the page /sign-in gives: '__Host-benchlore' where TLS is used. "
        "Where the library has no accounts, none is needed.",
        auto_error=False,
    )
)
"""For the API's description alone; ``Access`` has seen the session by then."""


def create_app(library: Library, front: Front = THIS_MACHINE) -> FastAPI:
    """Make the app for a library; it listens to nobody by itself."""
    app = FastAPI(
        title="benchlore",
        version=__version__,
        docs_url=None,  # its page would load scripts from elsewhere
        redoc_url=None,
        openapi_url="/api/openapi.json",
    )
    app.state.library, app.state.front = library, front
    app.state.accounts = Accounts(library)
    app.state.sessions = Sessions(library, app.state.accounts)
    app.state.throttle = Throttle()
    app.state.desk = Desk(library)
    prepare_intake(app.state, library)
    app.state.proof_pages = ProofPages()
    app.add_middleware(Access)
    add_guards(app, front)
    add_failures(app)
    for router in (looks, home, sign_in, people, bench, bench_job, shelf, editor, books, jobs, intake):
        app.include_router(router)
    for router in (bench_api, shelf_api, books_api, records_api):
        app.include_router(router, responses=failing(401, 403), dependencies=[SIGNED_IN])
    app.mount("/static", StaticFiles(directory=STATIC), name="static")
    return app

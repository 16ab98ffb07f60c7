"""The app: routes, templates and guards put together."""

from fastapi import FastAPI
from fastapi.staticfiles import StaticFiles

from benchlore import __version__
from benchlore.library import Desk, Library
from benchlore.web.bench import router as bench
from benchlore.web.bench_api import router as bench_api
from benchlore.web.bench_job import router as bench_job
from benchlore.web.books import ProofPages
from benchlore.web.books import router as books
from benchlore.web.books_api import router as books_api
from benchlore.web.editor import router as editor
from benchlore.web.failures import add_failures
from benchlore.web.guard import add_guards
from benchlore.web.home import router as home
from benchlore.web.intake import prepare as prepare_intake
from benchlore.web.intake import router as intake
from benchlore.web.jobs import router as jobs
from benchlore.web.looks import STATIC
from benchlore.web.looks import router as looks
from benchlore.web.records_api import router as records_api


def create_app(library: Library) -> FastAPI:
    """Make the app for a library; it listens to nobody by itself."""
    app = FastAPI(
        title="benchlore",
        version=__version__,
        docs_url=None,  # its page would load scripts from elsewhere
        redoc_url=None,
        openapi_url="/api/openapi.json",
    )
    app.state.library = library
    app.state.desk = Desk(library)
    prepare_intake(app.state, library)
    app.state.proof_pages = ProofPages()
    add_guards(app)
    add_failures(app)
    records = (jobs, intake, records_api)
    for router in (looks, home, bench, bench_job, bench_api, editor, books, books_api, *records):
        app.include_router(router)
    app.mount("/static", StaticFiles(directory=STATIC), name="static")
    return app

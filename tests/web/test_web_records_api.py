"""The recorded jobs' API against its own OpenAPI: nonsense in, documented answers out."""

import pytest
import schemathesis
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from records_samples import job, stored
from schemathesis import GenerationMode
from schemathesis.checks import load_all_checks

from benchlore.jobs import Attempt, Reading, Retest
from benchlore.library import init_library
from benchlore.web import create_app

load_all_checks()
HERE = {"Host": "127.0.0.1"}


@pytest.fixture(scope="module")
def api(tmp_path_factory):
    library = init_library(tmp_path_factory.mktemp("api") / "library", title="Quay", board="my-board")
    stored(
        library,
        job(
            "1",
            readings=(Reading("rail-ohms", 1, value=3.0),),
            attempts=(Attempt("replace-c5", 2, Retest.GONE),),
        ),
        job("2", opened=None),
    )
    app = create_app(library)
    return schemathesis.openapi.from_asgi("/api/openapi.json", app, headers=HERE)


OPERATIONS = [
    ("/api/jobs", GenerationMode.POSITIVE),
    ("/api/jobs", GenerationMode.NEGATIVE),
    ("/api/jobs/{shop}/{number}", GenerationMode.POSITIVE),  # any text may stand there
    ("/api/intake/{token}", GenerationMode.POSITIVE),
]


@pytest.mark.parametrize(("path", "mode"), OPERATIONS)
@given(data=st.data())
@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True)
def test_nonsense_is_answered_as_documented(api, path, mode, data):
    case = data.draw(api[path]["GET"].as_strategy(generation_mode=mode))
    case.call_and_validate(headers=HERE)

import subprocess
import sys

import pytest

from benchlore import jobs


def test_every_public_name_is_there():
    assert all(getattr(jobs, name) is not None for name in jobs.__all__)


def test_a_name_that_is_not_there_is_told():
    with pytest.raises(AttributeError, match="no attribute 'Shop'"):
        _ = jobs.Shop


def test_a_job_alone_needs_no_database_library():
    program = "import sys; from benchlore.jobs import Job, merge; print('sqlalchemy' in sys.modules, 'numpy' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout == "False False\n"

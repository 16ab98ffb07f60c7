import socket
import threading
import time
import urllib.request

import pytest

from benchlore.web import Listening, PortTakenError, serve


def test_it_answers_on_this_machine(library):
    told = []
    threading.Thread(
        target=serve, args=(library, Listening(port=0)), kwargs={"ready": told.append}, daemon=True
    ).start()
    for _ in range(200):
        if told:
            break
        time.sleep(0.05)
    assert told[0].startswith("http://127.0.0.1:")
    with urllib.request.urlopen(told[0]) as answer:
        assert answer.status == 200
        assert b"Quay bench" in answer.read()


def test_a_port_that_is_taken_is_said_so(library):
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        with pytest.raises(PortTakenError, match=f"port {port} is taken.*--port {port + 1}"):
            serve(library, Listening(port=port), ready=print)

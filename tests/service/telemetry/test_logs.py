import io
import json
import subprocess
import sys

import structlog

from service.telemetry.logs import set_up_logs

SCRIPT = """
import structlog
from service.telemetry.logs import set_up_logs
set_up_logs("warning")
log = structlog.get_logger()
log.info("not told")
def fails(password):
    raise ValueError("broken")
try:
    fails("seven slow barges")
except ValueError:
    log.exception("defect", number="1")
log.warning("refused", path="/v1/jobs\\nforged line")
"""


def test_a_line_is_one_json_object_that_tells_no_local_value_and_cannot_be_forged():
    run = subprocess.run([sys.executable, "-c", SCRIPT], capture_output=True, text=True, check=True)
    assert run.stdout == ""
    lines = [json.loads(line) for line in run.stderr.splitlines()]
    assert [line["event"] for line in lines] == ["defect", "refused"]
    assert "seven slow barges" not in run.stderr
    assert lines[0]["exception"][0]["exc_type"] == "ValueError"
    assert lines[1]["path"] == "/v1/jobs\nforged line"


def test_lines_go_on_when_the_stream_they_were_set_up_with_is_closed(monkeypatch):
    before = structlog.get_config()
    first, second = io.StringIO(), io.StringIO()
    try:
        monkeypatch.setattr(sys, "stderr", first)
        set_up_logs("warning")
        first.close()
        monkeypatch.setattr(sys, "stderr", second)
        structlog.get_logger().warning("refused")
    finally:
        structlog.configure(**before)
    assert json.loads(second.getvalue())["event"] == "refused"

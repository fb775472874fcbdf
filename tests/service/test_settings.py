import pytest
from pydantic import ValidationError

from service.settings import Settings


def test_every_setting_says_what_it_is_and_quantities_say_their_unit():
    units = ("_s", "_bytes", "_pixels", "_kib", "_pages", "_min", "_attempts", "_limit")
    for name, field in Settings.model_fields.items():
        assert field.description, name
        number = isinstance(field.default, int | float)
        assert not number or name.endswith(units) or name in {"port", "workers"}, name


def test_settings_are_read_from_the_environment(monkeypatch):
    monkeypatch.setenv("LIMITWITNESS_WORKERS", "3")
    assert Settings().workers == 3


@pytest.mark.parametrize(("name", "wrong"), [("port", -1), ("workers", 65), ("work_poll_s", 0)])
def test_a_wrong_setting_is_refused_by_name(name, wrong):
    with pytest.raises(ValidationError, match=name):
        Settings(**{name: wrong})

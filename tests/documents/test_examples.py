"""The examples that docstrings give are run: what a docstring claims, the code does."""

import doctest
import importlib
import pkgutil

import pytest

import service.definitions
import service.domain
import service.journal
import speech
import vision

PACKAGES = (service.domain, service.definitions, service.journal, speech, vision)
MODULES = sorted(
    f"{package.__name__}.{module.name}"
    for package in PACKAGES
    for module in pkgutil.iter_modules(package.__path__)
    if not module.ispkg and module.name != "__main__"
)


@pytest.mark.parametrize("name", MODULES)
def test_the_examples_in_the_docstrings_come_out_as_written(name):
    assert doctest.testmod(importlib.import_module(name)).failed == 0

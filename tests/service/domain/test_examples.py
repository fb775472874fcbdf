"""Every example in a docstring of the domain runs and gives what it says."""

import doctest
import importlib
import pkgutil

import pytest

from service import domain

MODULES = [module.name for module in pkgutil.iter_modules(domain.__path__)]


@pytest.mark.parametrize("name", MODULES)
def test_the_examples_of_a_module_give_what_they_say(name):
    found = doctest.testmod(importlib.import_module(f"service.domain.{name}"))
    assert found.failed == 0

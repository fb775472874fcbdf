"""`limitwitness check PACKAGE`: is a package unchanged since recorded? Needs no service and no database."""

from service.package.check_door import add_arguments, run

__all__ = ["add_arguments", "run"]

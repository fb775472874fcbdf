"""limitwitness: the service that witnesses limit-contact settings; folders are its layers."""

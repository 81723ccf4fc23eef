"""Reading and writing files so that nothing is lost. The only module that knows of systems."""

"""Reading and writing files so that nothing is lost. The only room that knows of systems."""

"""The parts that the pages are built from; every colour and size comes from the theme."""

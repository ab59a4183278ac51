"""Practice: the real screens on a clock of its own, with a trainer; nothing in it is a record of a real scope."""

"""A scenario with a table that no scenario has."""


def make(work, program):
    (work / "wrong.toml").write_text("[weather]\nrain_mm = 3\n")

"""A small camera test to rehearse: one gain, one temperature, a short ladder."""

SCENARIO = """
[sensor]
gain_e_adu = 0.5
read_noise_e = 2.0
full_well_e = 20000
[camera]
dust_shadows = 0
[exposures]
bias = 6
darks = 2
flats = 2
dark_flats = 0
flat_steps = [0.05, 0.15, 0.3, 0.45, 0.6, 0.8, 1.5, 2.5]
dark_steps_s = [100, 300]
lamp_scatter = 0.002
[[filters]]
name = "L"
lights = 0
"""


def make(work, program):
    (work / "test.toml").write_text(SCENARIO)

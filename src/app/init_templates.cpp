#include "app/init_templates.h"

namespace ng::app {

const char* const kSiteTemplate = R"(# site.toml - the place where the telescope stands.
# Units stand in the names of the keys. A line that begins with # is a remark; a key without its # takes effect.

name = "@name@"
latitude_deg = @latitude_deg@       # north positive
longitude_deg = @longitude_deg@     # east positive
elevation_m = @elevation_m@
time_zone = "@time_zone@"      # of the system's database: times are told in it, daylight saving included

[sky]
zenith_mag_arcsec2 = @zenith_mag_arcsec2@   # V, moonless: about 22 in a desert, 21 in the country, 19.5 in a suburb, 18 in a town
seeing_fwhm_arcsec = 3.0    # of stars in long exposures at the zenith; 2 is very good
# b_minus_v = 0.93          # colour of the dark sky
# extinction_mag_airmass = 0.25   # in V; left out: clear air at this elevation

[air]
temperature_c = 5           # of a usual night, at its coldest
humidity_percent = 80
# pressure_hpa = 950        # at the site; left out: the usual one at this elevation

[horizon]
lowest_altitude_deg = 25    # you do not photograph below
# azimuth_altitude_deg = [[0, 10], [90, 25], [180, 15], [270, 20]]   # what hides the sky, azimuth from north through east
# file = "horizon.txt"      # the same as lines of two numbers
)";

const char* const kRigTemplate = R"(# rig.toml - what stands on the mount.
# Units stand in the names of the keys. A line that begins with # is a remark; a key without its # takes effect.

name = "@name@"

[optics]
aperture_mm = @aperture_mm@
obstruction_mm = @obstruction_mm@         # diameter of the secondary mirror's shade; 0 for a refractor
focal_length_mm = @focal_length_mm@      # of the telescope alone
reducer = @reducer@            # 0.8 for a 0.8 x reducer, 2 for an extender
throughput = 0.90         # of all glass and mirrors, without filter

[sensor]
width_px = @width_px@
height_px = @height_px@
pixel_um = @pixel_um@
mosaic = "none"           # a colour sensor: "RGGB", "BGGR", "GRBG" or "GBRG"
bits = 16                 # of the numbers in its files
offset_adu = 500          # level of a bias frame
full_well_e = 50000
dark_e_s = 0.003          # dark current of a usual pixel ...
dark_reference_c = -10    # ... at this temperature
gain_setting = 100        # in use, one within the table below
quantum_efficiency_percent_by_nm = [[350, 35], [400, 60], [450, 80], [500, 87], [550, 86], [600, 80], [650, 72], [700, 62], [800, 40], [900, 20], [1000, 7]]

# What the gain settings do: from the maker's curve, or measured with your own frames. One row will do.
[[sensor.gains]]
setting = 0
gain_e_adu = 0.78
read_noise_e = 3.5

[[sensor.gains]]
setting = 100
gain_e_adu = 0.25
read_noise_e = 1.5
# full_well_e = 16000     # where it is less than both the sensor's and the top of the converter

[[sensor.gains]]
setting = 200
gain_e_adu = 0.08
read_noise_e = 1.2

[cooler]
temperature_c = -10       # at which you use the sensor
largest_drop_c = 35       # below the air, that it reaches

# Without a wheel: one entry, the window before the sensor. For a colour sensor that is all.
[[filters]]
name = "L"                # as the camera writes it into its files
centre_nm = 550
width_nm = 300            # between half and half
flank_nm = 12             # from full to nothing
throughput = 0.96
thickness_mm = 2.0        # of the glass
# refractive_index = 1.52

[[filters]]
name = "R"
centre_nm = 638
width_nm = 100
flank_nm = 12
throughput = 0.95
thickness_mm = 2.0

[[filters]]
name = "G"
centre_nm = 537
width_nm = 88
flank_nm = 12
throughput = 0.94
thickness_mm = 2.0

[[filters]]
name = "B"
centre_nm = 453
width_nm = 110
flank_nm = 12
throughput = 0.93
thickness_mm = 2.0

[[filters]]
name = "Ha"
centre_nm = 656.5
width_nm = 7
flank_nm = 1.5
throughput = 0.91
thickness_mm = 2.0

[[filters]]
name = "OIII"
centre_nm = 500.5
width_nm = 7
flank_nm = 1.5
throughput = 0.90
thickness_mm = 2.0

[[filters]]
name = "SII"
centre_nm = 672.4
width_nm = 7
flank_nm = 1.5
throughput = 0.91
thickness_mm = 2.0

[guide]                   # remove the table when you do not guide
aperture_mm = 30
focal_length_mm = 120
pixel_um = 3.75
width_px = 1280
height_px = 960

[mount]
past_meridian_min = 10    # it may track so long beyond the meridian; 0: it flips on it
flip_min = 6              # from the last exposure before to the first after
guided_error_arcsec = 0.8 # rms of each axis
periodic_error_arcsec = 20    # unguided, peak to peak
worm_period_s = 480
polar_error_arcmin = 5    # of the axis from the pole
slew_deg_s = 3

[timing]                  # what every pause costs
download_s = 2            # from the end of an exposure to the next
dither_px = 3             # in pixels of the main camera, both axes
dither_s = 12             # with settling
dither_every = 1          # exposures
filter_change_s = 5
refocus_min = 3
refocus_every_c = 2       # after such a change of temperature; 0: not for that
refocus_with_filter = true
centring_min = 3          # on a new target
park_min = 2
flats_min = 20            # at dusk or dawn

[power]
lowest_volts = 11.5       # with which the devices still work

[[power.supplies]]        # one, or two: what a mount draws when it slews can starve a camera
name = "main"
volts = 12.8
rated_a = 10
cable_m = 3               # one way
cable_mm2 = 1.5           # stranded copper: 0.5, 0.75, 1, 1.5, 2.5, 4, 6; or cable_awg = 16

[power.battery]           # remove the table on mains
chemistry = "lithium iron phosphate"    # or "lead acid"
capacity_ah = 50
volts = 12.8
usable_percent = 80       # 50 for lead

[[power.loads]]
name = "mount"
watts = 8
peak_watts = 40           # slewing
# supply = "main"         # the name of its supply; left out: the first one

[[power.loads]]
name = "camera and cooler"
watts = 18
peak_watts = 36           # cooling down

[[power.loads]]
name = "guide camera"
watts = 2

[[power.loads]]
name = "dew heater"
watts = 8

[[power.loads]]
name = "focuser"
watts = 5
share_of_time = 0.05

[[power.loads]]
name = "control box"
watts = 8
)";

}  // namespace ng::app

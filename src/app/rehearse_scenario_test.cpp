#include "app/rehearse_scenario.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace ng::app {
namespace {

using testing::HasSubstr;
using testing::StartsWith;

std::string error_of(const std::string& text) {
  simulate::Scenario s = simulate::built_in_scenario(simulate::NightSize::kSmall);
  const auto result = apply_scenario_text(text, "my.toml", s);
  return result.ok() ? "" : result.error().message();
}

TEST(RehearseScenario, ReadsEveryTable) {
  simulate::Scenario s = simulate::built_in_scenario(simulate::NightSize::kSmall);
  const auto result = apply_scenario_text(R"(
seed = 7
satellite = false
[site]
latitude_deg = -33.5
[target]
name = "M 42"
ra_deg = 83.82
dec_deg = -5.39
cluster_stars = 0
[air]
fwhm_arcsec = 2
[mount]
meridian_flip = false
[optics]
aperture_mm = 200
obstruction_mm = 70.5
[sensor]
width = 800
gain_e_adu = 0.25
[camera]
temperature_c = -5
[exposures]
light_s = 60
evening = "2026-12-01"
[[filters]]
name = "Ha"
lights = 3
[[filters]]
name = "wide"
lights = 2
centre_nm = 600
width_nm = 200
)",
                                          "my.toml", s);
  ASSERT_TRUE(result.ok()) << result.error().message();
  EXPECT_EQ(s.seed, 7u);
  EXPECT_FALSE(s.satellite);
  EXPECT_EQ(s.site.latitude_deg, -33.5);
  EXPECT_EQ(s.target.name, "M 42");
  EXPECT_EQ(s.target.cluster_stars, 0);
  EXPECT_EQ(s.air.fwhm_arcsec, 2);
  EXPECT_FALSE(s.mount.meridian_flip);
  EXPECT_EQ(s.optics.obstruction_mm, 70.5);
  EXPECT_EQ(s.camera.sensor.width, 800);
  EXPECT_EQ(s.camera.sensor.gain_e_adu, 0.25);
  EXPECT_EQ(s.camera.temperature_c, -5);
  EXPECT_EQ(s.exposures.evening, "2026-12-01");
  ASSERT_EQ(s.filters.size(), 2u);
  EXPECT_EQ(s.filters[0].filter.width_nm, 7);  // of the built-in wheel
  EXPECT_EQ(s.filters[1].filter.centre_nm, 600);
  EXPECT_EQ(s.filters[1].lights, 2);
  EXPECT_TRUE(s.validate().ok());
}

// File, line and key, once each, whatever the depth.
TEST(RehearseScenario, ErrorsNameLineAndKey) {
  EXPECT_THAT(error_of("seed = 1\ncolour = 3\n"),
              StartsWith("my.toml:2: colour: no such key; known here: air, camera"));
  EXPECT_THAT(error_of("[site]\nlatitude = 3\n"),
              StartsWith("my.toml:2: site.latitude: no such key; did you mean latitude_deg? known here: elevation_m"));
  EXPECT_THAT(error_of("[optics]\nfocal_length_cm = 65\n"),
              StartsWith("my.toml:2: optics.focal_length_cm: no such key; write focal_length_mm, in the unit"));
  EXPECT_THAT(error_of("[site]\n\nlatitude_deg = \"north\"\n"),
              StartsWith("my.toml:3: site.latitude_deg: must be a number"));
  EXPECT_THAT(error_of("[exposures]\ndarks = -1\n"), StartsWith("my.toml:2: exposures.darks: must be a whole number"));
  EXPECT_THAT(error_of("[exposures]\ndarks = 1.5\n"), HasSubstr("must be a whole number"));
  EXPECT_THAT(error_of("site = 3\n"), StartsWith("my.toml:1: site: must be a table"));
  EXPECT_THAT(error_of("[[filters]]\nname = \"R\"\nwidth = 3\n"), StartsWith("my.toml:3: filters.width: no such key"));
  EXPECT_THAT(error_of("filters = 3\n"), HasSubstr("[[filters]]"));
  EXPECT_THAT(error_of("[site\n"), StartsWith("my.toml:1: not TOML: "));
}

TEST(RehearseScenario, OptionsComeLast) {
  RehearseRequest r;
  r.filters = {"G", "SII"};
  r.lights = 5;
  r.width = 640;
  r.height = 480;
  r.exposure_s = 30;
  r.seed = 99;
  r.flats = 2;
  const auto s = scenario_of(r);
  ASSERT_TRUE(s.ok());
  ASSERT_EQ(s->filters.size(), 2u);
  EXPECT_EQ(s->filters[1].filter.centre_nm, 672.4);
  EXPECT_EQ(s->light_count(), 10);
  EXPECT_EQ(s->camera.sensor.width, 640);
  EXPECT_EQ(s->exposures.light_s, 30);
  EXPECT_EQ(s->exposures.flats, 2);
  EXPECT_EQ(s->seed, 99u);
}

TEST(RehearseScenario, OptionsThatDoNotFitAreRefused) {
  RehearseRequest r;
  r.filters = {"Q"};
  EXPECT_THAT(scenario_of(r).error().message(), HasSubstr("no filter 'Q'"));
  r.filters = {"R"};
  r.mosaic = true;
  EXPECT_THAT(scenario_of(r).error().message(), HasSubstr("--filters"));
  r = {};
  r.scenario = "/nowhere/my.toml";
  EXPECT_EQ(scenario_of(r).error().code(), Code::kNotFound);
  r = {};
  r.width = 4;
  EXPECT_THAT(scenario_of(r).error().message(), HasSubstr("width is 4"));
}

}  // namespace
}  // namespace ng::app

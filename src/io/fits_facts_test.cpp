#include "io/fits_facts.h"

#include "io/test_support.h"

namespace ng::io {
namespace {

using ::testing::Contains;
using ::testing::HasSubstr;
using testing::header;
using ::testing::IsEmpty;

FrameFacts facts_of(std::vector<std::string> cards, const std::string& name = "x.fits", int width = 100,
                    int height = 80) {
  FitsLayout layout;
  layout.image.kind = HduKind::kImage;
  layout.image.width = width;
  layout.image.height = height;
  layout.cards = FitsCards::scan(header(cards));
  return fits_facts(layout, name);
}

TEST(FitsFacts, KindOfFrameInManySpellings) {
  const auto kind = [](const std::string& text) { return facts_of({"IMAGETYP= '" + text + "'"}).kind; };
  for (const char* text : {"Light Frame", "LIGHT", "light", "object", "Object", "science", "SCI", "EXPOSE"})
    EXPECT_EQ(kind(text), FrameKind::kLight) << text;
  for (const char* text : {"Dark Frame", "DARK", "dark", "Master Dark"})
    EXPECT_EQ(kind(text), FrameKind::kDark) << text;
  for (const char* text : {"Bias Frame", "BIAS", "zero", "Offset"}) EXPECT_EQ(kind(text), FrameKind::kBias) << text;
  for (const char* text : {"Flat Field", "FLAT", "Flat Frame", "skyflat", "domeflat", "twilight flat", "TWILIGHT"})
    EXPECT_EQ(kind(text), FrameKind::kFlat) << text;
  for (const char* text : {"DARKFLAT", "Dark Flat", "FlatDark", "flat-dark"})
    EXPECT_EQ(kind(text), FrameKind::kDarkFlat) << text;
  EXPECT_EQ(facts_of({"FRAME   = 'Dark'"}).kind, FrameKind::kDark);
  EXPECT_EQ(facts_of({"OBSTYPE = 'EXPOSE'"}).kind, FrameKind::kLight);
  const FrameFacts odd = facts_of({"IMAGETYP= 'focus'"});
  EXPECT_EQ(odd.kind, FrameKind::kUnknown);
  EXPECT_THAT(odd.warnings, Contains(HasSubstr("IMAGETYP = 'focus'")));
}

TEST(FitsFacts, KindFromWordsOfTheFileName) {
  EXPECT_EQ(facts_of({}, "Bias_frame0001.fit.gz").kind, FrameKind::kBias);
  EXPECT_EQ(facts_of({}, "dark-300s.fits").kind, FrameKind::kDark);
  EXPECT_EQ(facts_of({}, "flat_3sec.FIT.gz").kind, FrameKind::kFlat);
  EXPECT_EQ(facts_of({}, "dark_flat_01.fits").kind, FrameKind::kDarkFlat);
  EXPECT_EQ(facts_of({}, "light 7.fits").kind, FrameKind::kLight);
  EXPECT_THAT(facts_of({}, "flat_3sec.fits").warnings, Contains(HasSubstr("from the file name")));
  // No word, part of a word, two words that contradict each other: unknown.
  for (const char* name : {"M42_30_1.fits", "biased.fits", "darkroom.fits", "light_bias.fits"})
    EXPECT_EQ(facts_of({}, name).kind, FrameKind::kUnknown) << name;
  // The header is stronger.
  EXPECT_EQ(facts_of({"IMAGETYP= 'LIGHT'"}, "dark.fits").kind, FrameKind::kLight);
}

TEST(FitsFacts, Exposure) {
  EXPECT_EQ(facts_of({"EXPTIME = 30.0"}).exposure_s, 30.0);
  EXPECT_EQ(facts_of({"EXPOSURE= 30.0"}).exposure_s, 30.0);
  EXPECT_EQ(facts_of({"EXPTIME = 600.0", "SUBEXP  = 60.0"}).value_exposure_s, 60.0);
  EXPECT_FALSE(facts_of({"EXPTIME = 600.0"}).value_exposure_s.has_value());
  EXPECT_DOUBLE_EQ(*facts_of({"EXPOINUS= 64"}).exposure_s, 64e-6);
  EXPECT_FALSE(facts_of({}).exposure_s.has_value());
  EXPECT_FALSE(facts_of({"EXPTIME = -1"}).exposure_s.has_value());
  const FrameFacts comma = facts_of({"EXPTIME =              6,4E-05", "EXPOINUS= 64"});
  EXPECT_DOUBLE_EQ(*comma.exposure_s, 6.4e-5);
  EXPECT_THAT(comma.warnings, Contains(HasSubstr("decimal comma")));
  EXPECT_THAT(facts_of({"EXPTIME = 30", "EXPOSURE= 31"}).warnings, Contains(HasSubstr("two exposure times")));
  EXPECT_THAT(facts_of({"EXPTIME = 30", "EXPOSURE= 30.001"}).warnings, IsEmpty());
}

TEST(FitsFacts, GainIsASettingOrElectrons) {
  const FrameFacts setting = facts_of({"GAIN    = 120 / gain setting"});
  EXPECT_EQ(setting.gain_setting, 120.0);
  EXPECT_FALSE(setting.electrons_per_adu.has_value());
  EXPECT_THAT(setting.warnings, IsEmpty());
  const FrameFacts electrons = facts_of({"GAIN    = 1.9 / e-/ADU"});
  EXPECT_EQ(electrons.electrons_per_adu, 1.9);
  EXPECT_FALSE(electrons.gain_setting.has_value());
  EXPECT_EQ(facts_of({"GAIN    = 1.0 / [electrons/count] Pixel gain"}).electrons_per_adu, 1.0);
  const FrameFacts both = facts_of({"GAIN    = 1 / setting", "EGAIN   = 0.25 / electrons per ADU"});
  EXPECT_EQ(both.gain_setting, 1.0);
  EXPECT_EQ(both.electrons_per_adu, 0.25);
  EXPECT_THAT(both.warnings, IsEmpty());
  EXPECT_THAT(facts_of({"GAIN    = 1.9"}).warnings, Contains(HasSubstr("states no unit")));
  EXPECT_EQ(facts_of({"GAIN    = 0"}).gain_setting, 0.0);
  EXPECT_EQ(facts_of({"ISO     = 800"}).gain_setting, 800.0);
  EXPECT_FALSE(facts_of({"EGAIN   = 0"}).electrons_per_adu.has_value());
  EXPECT_EQ(facts_of({"OFFSET  = 9"}).offset_setting, 9.0);
  EXPECT_EQ(facts_of({"RDNOISE = 5.0"}).read_noise_e, 5.0);
}

TEST(FitsFacts, TemperatureInCelsiusWhateverTheUnit) {
  EXPECT_EQ(facts_of({"CCD-TEMP= -10.0"}).sensor_temperature_c, -10.0);
  EXPECT_EQ(facts_of({"CAMTEMP = '11 C    '"}).sensor_temperature_c, 11.0);
  const FrameFacts kelvin = facts_of({"CCD-TEMP= 180.2 / CCD Cu block temperature"});
  EXPECT_NEAR(*kelvin.sensor_temperature_c, -92.95, 1e-9);
  EXPECT_THAT(kelvin.warnings, Contains(HasSubstr("kelvin")));
  EXPECT_NEAR(*facts_of({"CAMTEMP = 271.0 / in Kelvin, =-1 if no data"}).sensor_temperature_c, -2.15, 1e-9);
  EXPECT_FALSE(facts_of({"CAMTEMP = -1 / in Kelvin, =-1 if no data"}).sensor_temperature_c.has_value());
  const FrameFacts wanted = facts_of({"SET-TEMP= -20"});
  EXPECT_EQ(wanted.sensor_temperature_c, -20.0);
  EXPECT_THAT(wanted.warnings, Contains(HasSubstr("set point")));
  EXPECT_EQ(facts_of({"SET-TEMP= -20", "CCD-TEMP= -19.5"}).sensor_temperature_c, -19.5);
  EXPECT_FALSE(facts_of({"CCD-TEMP= 9999"}).sensor_temperature_c.has_value());
}

TEST(FitsFacts, LevelsAndRegions) {
  const FrameFacts facts = facts_of({"PEDESTAL= -100", "DATAMAX = 65535 / SATURATION LEVEL"});
  EXPECT_EQ(facts.black_level_adu, 100.0);
  EXPECT_EQ(facts.saturation_adu, 65535.0);
  EXPECT_FALSE(facts_of({"PEDESTAL= 0"}).black_level_adu.has_value());
  const FrameFacts positive = facts_of({"PEDESTAL= 100"});
  EXPECT_FALSE(positive.black_level_adu.has_value());
  EXPECT_THAT(positive.warnings, Contains(HasSubstr("positive")));
  const FrameFacts sections = facts_of({"TRIMSEC = '[  17: 90,   1: 80]'", "BIASSEC = '[4:13,1:80]'"});
  EXPECT_EQ(sections.useful_region, (Region{16, 0, 74, 80}));
  EXPECT_EQ(sections.overscan_region, (Region{3, 0, 10, 80}));
  const FrameFacts outside = facts_of({"TRIMSEC = '[11:101,4:80]'", "BIASSEC = 'none'"});
  EXPECT_FALSE(outside.useful_region.has_value());
  EXPECT_THAT(outside.warnings, Contains(HasSubstr("does not lie inside")));
}

TEST(FitsFacts, BinningAndPixelSize) {
  const FrameFacts two = facts_of({"XBINNING= 2", "YBINNING= 1", "XPIXSZ  = 7.52"});
  EXPECT_EQ(two.binning_x, 2);
  EXPECT_EQ(two.binning_y, 1);
  EXPECT_EQ(two.pixel_size_um, 7.52);  // after binning already
  EXPECT_EQ(facts_of({"BINNING = '2x2'", "PIXSIZE1= 3.76"}).pixel_size_um, 7.52);
  EXPECT_EQ(facts_of({"CCDSUM  = '2 3     '"}).binning_y, 3);
  EXPECT_NEAR(*facts_of({"CCDXPIXE= 0.000009", "CCDSUM  = '2 2'"}).pixel_size_um, 18, 1e-9);
  EXPECT_EQ(facts_of({"XBINNING= 0"}).binning_x, 1);
}

TEST(FitsFacts, BayerPatternOfTheFirstStoredRow) {
  EXPECT_EQ(facts_of({"BAYERPAT= 'GRBG'", "ROWORDER= 'TOP-DOWN'"}).bayer, BayerPattern::kGrbg);
  EXPECT_THAT(facts_of({"BAYERPAT= 'GRBG'", "ROWORDER= 'TOP-DOWN'"}).warnings, IsEmpty());
  // Bottom-up storage: row 0 of the file is the last of 80 rows, whose filters are B G for an RGGB sensor seen from the
  // top.
  EXPECT_EQ(facts_of({"BAYERPAT= 'RGGB'", "ROWORDER= 'BOTTOM-UP'"}).bayer, BayerPattern::kGbrg);
  EXPECT_EQ(facts_of({"BAYERPAT= 'RGGB'", "ROWORDER= 'BOTTOM-UP'"}, "x.fits", 100, 81).bayer, BayerPattern::kRggb);
  EXPECT_EQ(facts_of({"BAYERPAT= 'RGGB'", "ROWORDER= 'TOP-DOWN'", "XBAYROFF= 1"}).bayer, BayerPattern::kGrbg);
  EXPECT_EQ(facts_of({"BAYERPAT= 'RGGB'", "ROWORDER= 'TOP-DOWN'", "XBAYROFF= 1", "YBAYROFF= -1"}).bayer,
            BayerPattern::kBggr);
  const FrameFacts unsaid = facts_of({"BAYERPAT= 'rggb'"});
  EXPECT_EQ(unsaid.bayer, BayerPattern::kRggb);
  EXPECT_THAT(unsaid.warnings, Contains(HasSubstr("ROWORDER")));
  const FrameFacts in_filter = facts_of({"FILTER  = 'RGGB'"});
  EXPECT_EQ(in_filter.bayer, BayerPattern::kRggb);
  EXPECT_EQ(in_filter.filter, "");
  EXPECT_FALSE(facts_of({"COLORTYP= 'RAW16'"}).bayer.has_value());
  EXPECT_FALSE(facts_of({"BAYERPAT= 'XTRANS'"}).bayer.has_value());
  EXPECT_FALSE(facts_of({"FILTER  = 'R'"}).bayer.has_value());
  EXPECT_EQ(facts_of({"FILTER  = 'None'"}).filter, "");
  EXPECT_EQ(facts_of({"FILTER1 = 'Air'", "FILTER2 = 'Ha'"}).filter, "Ha");
}

TEST(FitsFacts, StartOfExposure) {
  const auto start = [](std::vector<std::string> cards) {
    const FrameFacts facts = facts_of(std::move(cards));
    return facts.start ? facts.start->iso() : "none";
  };
  EXPECT_EQ(start({"DATE-OBS= '2026-01-14T21:03:00.5'"}), "2026-01-14T21:03:00.500");
  EXPECT_EQ(start({"DATE-OBS= '2017-12-19T18:33:43.317-0700'"}), "2017-12-20T01:33:43.317");
  EXPECT_EQ(start({"DATE-OBS= '2013-07-13'", "UT      = '00:57:33'"}), "2013-07-13T00:57:33.000");
  EXPECT_EQ(start({"DATE-OBS= '2013-07-13'", "TIME-OBS= '00:57:33.25'"}), "2013-07-13T00:57:33.250");
  EXPECT_EQ(start({"DATE-OBS= '13/07/98'", "UT      = '01:00:00'"}), "1998-07-13T01:00:00.000");
  EXPECT_EQ(start({"MJD-OBS = 40587.5"}), "1970-01-01T12:00:00.000");
  EXPECT_EQ(start({"DATE-OBS= 'yesterday'", "MJD-OBS = 40587.5"}), "1970-01-01T12:00:00.000");
  EXPECT_EQ(start({}), "none");
  EXPECT_THAT(facts_of({"DATE-OBS= '2013-07-13'"}).warnings, Contains(HasSubstr("not its time")));
  EXPECT_THAT(facts_of({"DATE-OBS= '2017-12-19T18:33:43'", "MJD-OBS = 58107.065", "EXPTIME = 60"}).warnings,
              Contains(HasSubstr("minutes apart")));
  EXPECT_THAT(facts_of({"DATE-OBS= '2017-12-20T01:33:43'", "MJD-OBS = 58107.065", "EXPTIME = 60"}).warnings, IsEmpty());
  EXPECT_THAT(facts_of({"DATE-OBS= '2017-12-20T01:33:43'", "TIMESYS = 'TT'"}).warnings, Contains(HasSubstr("TIMESYS")));
}

TEST(FitsFacts, Pointing) {
  const auto ra = [](std::vector<std::string> cards) { return facts_of(std::move(cards)).ra_deg.value_or(-1); };
  EXPECT_NEAR(ra({"RA      = 97.98", "DEC     = 4.94"}), 97.98, 1e-12);
  EXPECT_NEAR(ra({"RA      = '06:31:55.2'", "DEC     = '+04:56:34'"}), 97.98, 1e-9);
  EXPECT_NEAR(ra({"OBJCTRA = '06 31 55.2'", "OBJCTDEC= '+04 56 34'"}), 97.98, 1e-9);
  EXPECT_NEAR(ra({"RA      = 6.532 / [hours]", "DEC     = 4.94"}), 97.98, 1e-9);
  EXPECT_NEAR(ra({"RA-MNT  = 301.56439 / Degrees", "DEC-MNT = 44.456875"}), 301.56439, 1e-12);
  EXPECT_NEAR(*facts_of({"RA      = '00 00 01'", "DEC     = '-00 30 00'"}).dec_deg, -0.5, 1e-12);
  EXPECT_EQ(ra({"RA      = 400", "DEC     = 4.94"}), -1);
  EXPECT_EQ(ra({"RA      = 97.98"}), -1);
  EXPECT_THAT(facts_of({"RA      = 97.98", "DEC     = 4.94", "EQUINOX = 1950.0"}).warnings,
              Contains(HasSubstr("equinox")));
  EXPECT_EQ(facts_of({"SECZ    = 1.176"}).airmass, 1.176);
  EXPECT_FALSE(facts_of({"AIRMASS = 0"}).airmass.has_value());
}

TEST(FitsFacts, SiteWithEastPositive) {
  const FrameFacts east = facts_of({"SITELAT = '40 12 15'", "SITELONG= '-77 11 51'", "SITEELEV= 120"});
  EXPECT_NEAR(*east.site_latitude_deg, 40.204166667, 1e-9);
  EXPECT_NEAR(*east.site_longitude_deg, -77.1975, 1e-9);
  EXPECT_EQ(east.site_elevation_m, 120.0);
  EXPECT_THAT(east.warnings, IsEmpty());
  EXPECT_NEAR(*facts_of({"LONGITUD= 203.74 / [deg East]"}).site_longitude_deg, -156.26, 1e-9);
  const FrameFacts letter = facts_of({"LONG-OBS= '77 11 51 W'", "LAT-OBS = '33 30 S'"});
  EXPECT_NEAR(*letter.site_longitude_deg, -77.1975, 1e-9);
  EXPECT_NEAR(*letter.site_latitude_deg, -33.5, 1e-9);
  EXPECT_THAT(letter.warnings, Contains(HasSubstr("stated as west")));
}

// Headers of real files: the local zone of DATE-OBS, or the sidereal time, shows that the longitude counts west.
TEST(FitsFacts, WestPositiveLongitudeIsNoticed) {
  const FrameFacts zone = facts_of({"DATE-OBS= '2017-12-19T18:33:43.317-0700'", "LONGITUD= 110.88 / Local longitude"});
  EXPECT_NEAR(*zone.site_longitude_deg, -110.88, 1e-9);
  EXPECT_THAT(zone.warnings, Contains(HasSubstr("west")));
  const FrameFacts sidereal =
      facts_of({"DATE-OBS= '2017-07-06T04:00:44.070'", "LST     = '+15 50 23.12'", "SITELONG= '+106 54 50.11'"});
  EXPECT_NEAR(*sidereal.site_longitude_deg, -106.913919, 1e-6);
  EXPECT_THAT(sidereal.warnings, Contains(HasSubstr("west")));
  // An honest east-positive one with the same evidence stays as it is.
  const FrameFacts honest =
      facts_of({"DATE-OBS= '2017-07-06T04:00:44.070'", "LST     = '+15 50 23.12'", "SITELONG= '-106 54 50.11'"});
  EXPECT_NEAR(*honest.site_longitude_deg, -106.913919, 1e-6);
  EXPECT_THAT(honest.warnings, IsEmpty());
  EXPECT_NEAR(*facts_of({"DATE-OBS= '2017-12-19T18:33:43+0100'", "SITELONG= 11.6"}).site_longitude_deg, 11.6, 1e-9);
}

TEST(FitsFacts, OpticsAndNames) {
  const FrameFacts facts = facts_of({"FOCALLEN= 2032.0", "APTDIA  = 203.2", "PIXSCALE= 1.16", "ROTATANG= 91.5",
                                     "INSTRUME= 'camera'", "TELESCOP= 'refractor'", "OBJECT  = 'NGC 2244'"});
  EXPECT_EQ(facts.focal_length_mm, 2032.0);
  EXPECT_EQ(facts.aperture_mm, 203.2);
  EXPECT_EQ(facts.plate_scale_arcsec_px, 1.16);
  EXPECT_EQ(facts.rotation_deg, 91.5);
  EXPECT_EQ(facts.camera, "camera");
  EXPECT_EQ(facts.telescope, "refractor");
  EXPECT_EQ(facts.object, "NGC 2244");
  EXPECT_THAT(facts.warnings, IsEmpty());
  EXPECT_THAT(facts_of({"FOCALLEN= 48768.8", "APTDIA  = 609.6"}).warnings, Contains(HasSubstr("f/80")));
  EXPECT_FALSE(facts_of({"FOCALLEN= 0"}).focal_length_mm.has_value());
}

TEST(FitsFacts, WhatWasDoneAlready) {
  const FrameFacts dark = facts_of({"HISTORY Auto dark subtraction"});
  EXPECT_TRUE(dark.dark_subtracted);
  EXPECT_FALSE(dark.calibrated);
  EXPECT_TRUE(facts_of({"HISTORY dark subtracted", "HISTORY flat field correction"}).calibrated);
  EXPECT_TRUE(facts_of({"CALSTAT = 'BDF'"}).calibrated);
  EXPECT_FALSE(facts_of({"CALSTAT = 'B'"}).calibrated);
  const FrameFacts electrons = facts_of({"BUNIT   = 'electron'", "EGAIN   = 0.25"});
  EXPECT_TRUE(electrons.calibrated);
  EXPECT_EQ(electrons.electrons_per_adu, 1.0);
  EXPECT_EQ(facts_of({"BUNIT   = 'electron/s'", "EXPTIME = 60"}).electrons_per_adu, 60.0);
  EXPECT_FALSE(facts_of({"BUNIT   = 'ADU'"}).calibrated);
  EXPECT_FALSE(facts_of({"HISTORY taken in the dark hours"}).dark_subtracted);
}

TEST(FitsFacts, DuplicateCardsThatDisagree) {
  const FrameFacts facts = facts_of({"EXPTIME = 30", "EXPTIME = 60", "BZERO   = 32768", "BZERO   = 32768.0"});
  EXPECT_EQ(facts.exposure_s, 30.0);
  EXPECT_THAT(facts.warnings, ::testing::ElementsAre(HasSubstr("EXPTIME stands twice")));
}

TEST(FitsFacts, EmptyHeaderStatesNothing) {
  const FrameFacts facts = facts_of({});
  EXPECT_EQ(facts.width, 100);
  EXPECT_EQ(facts.kind, FrameKind::kUnknown);
  EXPECT_FALSE(facts.exposure_s || facts.gain_setting || facts.electrons_per_adu || facts.sensor_temperature_c ||
               facts.bayer || facts.start || facts.ra_deg || facts.site_longitude_deg || facts.pixel_size_um ||
               facts.calibrated);
  EXPECT_THAT(facts.warnings, IsEmpty());
}

}  // namespace
}  // namespace ng::io

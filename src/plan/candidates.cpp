#include "plan/candidates.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/angle.h"
#include "sky/constellation.h"
#include "sky/coordinates.h"

namespace ng::plan {
namespace {

using catalog::ObjectKind;
using catalog::SkyObject;

constexpr double kSunRefused = deg_to_rad(30);
constexpr double kDarkSun = deg_to_rad(-18), kUsefulSun = deg_to_rad(-12);

// How much the list in which an object stands promises: the old ones hold what could be seen first. Common practice, no
// source.
double promise_of(const SkyObject& o) {
  constexpr std::pair<std::string_view, double> kLists[] = {
      {"M ", 1.0},  {"NGC ", 0.85}, {"IC ", 0.8},  {"C ", 0.9},   {"Sh", 0.65},  {"B ", 0.65},
      {"Cr ", 0.5}, {"LDN ", 0.3},  {"LBN ", 0.4}, {"Ced ", 0.4}, {"VdB ", 0.5}, {"SNR ", 0.5}};
  for (const auto& [list, promise] : kLists)
    if (o.names.front().starts_with(list)) return promise;
  return 0.4;
}

// The catalogue's magnitudes of galaxies, globular clusters and planetary nebulae are those of their own light. Of
// other nebulae they are mostly those of a star within, and say nothing of the surface.
bool magnitude_is_its_own(ObjectKind kind) {
  return kind == ObjectKind::kGalaxy || kind == ObjectKind::kGlobularCluster || kind == ObjectKind::kOpenCluster ||
         kind == ObjectKind::kPlanetaryNebula;
}

// Mean surface brightness by kind where the catalogue does not tell, mag/arcsec^2; common practice, no source.
double usual_brightness(const SkyObject& o) {
  const double later = promise_of(o) < 0.7 ? 1.5 : 0;  // what later lists added is fainter
  switch (o.kind) {
    case ObjectKind::kPlanetaryNebula:
      return 21.0 + later;
    case ObjectKind::kSupernovaRemnant:
      return 23.0 + later;
    case ObjectKind::kDarkNebula:
      return 22.0 + 0.4 * (6 - o.opacity.value_or(3));  // what it hides
    case ObjectKind::kGalaxy:
      return 23.0;
    case ObjectKind::kGalaxyCluster:
      return 25.5;
    case ObjectKind::kReflectionNebula:
      return 22.5 + later;
    default:
      return 22.0 + later;
  }
}

// 1 where the object fills between a quarter and all of the shorter side; less where it is smaller, or takes panels.
double fit_of(double size_deg, const Imaging& imaging, int panels) {
  constexpr double kComfortable = 0.25;
  const double share = size_deg / std::min(imaging.field_width_deg, imaging.field_height_deg);
  return share < kComfortable ? share / kComfortable : 1.0 / std::sqrt(panels);
}

// The Sun's right ascension grows by a turn a year from the March equinox (day 79): good to four days.
int month_of_midnight_transit(double ra_rad) {
  const double turns = ra_rad / (2 * kPi) + 0.5;
  const double day = std::fmod((turns - std::floor(turns)) * 365.25 + 79, 365.25);
  constexpr int kMonthEnds[] = {31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334, 366};
  return static_cast<int>(
             std::find_if(std::begin(kMonthEnds), std::end(kMonthEnds), [&](int end) { return day < end; }) -
             std::begin(kMonthEnds)) +
         1;
}

class Search {
 public:
  Search(const NightSteps& night, const Imaging& imaging, const CandidateOptions& options)
      : night_(night), imaging_(imaging), options_(options) {
    for (const NightStep& s : night.steps())
      if (s.sun_altitude_rad <= kUsefulSun) {
        useful_.push_back(s);
        if (s.sun_altitude_rad <= kDarkSun) dark_min_ += night.step_min();
      }
  }

  // Nothing when it stands too low for too long; its `dark_min` and the rest are filled otherwise.
  [[nodiscard]] std::optional<Candidate> look(std::uint32_t number, const SkyObject& o, sky::Direction of_date) const {
    Candidate c;
    c.number = number;
    if (magnitude_is_its_own(o.kind)) c.surface_brightness = catalog::surface_brightness(o);
    if (!c.surface_brightness) {
      c.surface_brightness = usual_brightness(o);
      c.brightness_assumed = true;
    }
    const double zero = catalog::shines_in_lines(o.kind) ? imaging_.line_zero_mag_e_s : imaging_.source_zero_mag_e_s;
    const double source = zero * std::pow(10.0, -0.4 * (*c.surface_brightness + options_.fainter_mag));
    if (!sum_minutes(of_date, source, c)) return std::nullopt;

    const double width = *o.major_arcmin / 60;
    const double height = o.minor_arcmin.value_or(*o.major_arcmin) / 60;
    const double longer = std::max(imaging_.field_width_deg, imaging_.field_height_deg);
    const double shorter = std::min(imaging_.field_width_deg, imaging_.field_height_deg);
    c.size_px = width * 3600 / imaging_.scale_arcsec_px;
    c.panels_across = panels_along(width, longer, options_.overlap);
    c.panels_up = panels_along(height, shorter, options_.overlap);
    const int panels = c.panels_across * c.panels_up;
    c.fit = fit_of(width, imaging_, panels);
    c.best_month = month_of_midnight_transit(of_date.ra_rad);
    c.transit = night_.transit(of_date);
    const Instant latest = c.transit.plus_seconds(60 * imaging_.past_meridian_min);
    if (latest > c.from && latest < c.to) c.flip = latest;

    double share = 1;
    if (source > 0) {
      const double patch = std::max(1.0, std::pow(imaging_.seeing_fwhm_arcsec / imaging_.scale_arcsec_px, 2));
      const double rate = source * source / (source + imaging_.sky_e_s + imaging_.other_e_s);  // SNR^2 a second
      const double whole = options_.snr * options_.snr / (patch * rate) / 3600 * panels;
      c.needed_h = std::max(0.0, whole - options_.collected_h(number));
      share = std::min(1.0, c.equivalent_min / 60 / std::max(*c.needed_h, 1e-3));
      if (*c.needed_h <= 0) share = 0;  // there is enough
    }
    c.worth = c.fit * std::sqrt(share) * std::min(1.0, c.equivalent_min / std::max(dark_min_, 60.0)) * promise_of(o);
    return c;
  }

 private:
  bool sum_minutes(sky::Direction d, double source, Candidate& c) const {
    c.moon_separation_rad = kPi;
    bool above = false;
    Instant begin;
    const double step_s = night_.step_min() * 60;
    double highest = 0;
    for (const NightStep& s : useful_) {
      const TargetAt t = night_.at(s, d);
      if (t.altitude_rad <= 0 || t.altitude_rad < options_.limit_rad(t.azimuth_rad)) {
        above = false;
        highest = 0;
        continue;
      }
      if (s.sun_altitude_rad <= kDarkSun) c.dark_min += night_.step_min();
      const double weight = minute_weight(imaging_, source, night_.light_ratio(t.altitude_rad), night_.sky_ratio(s, t));
      c.equivalent_min += night_.step_min() * weight;
      if (s.moon_altitude_rad > 0) c.moon_separation_rad = std::min(c.moon_separation_rad, t.moon_separation_rad);
      if (!above) begin = s.at.plus_seconds(-step_s / 2);
      above = true;
      highest = std::max(highest, t.altitude_rad);
      const Instant end = s.at.plus_seconds(step_s / 2);
      if (end.seconds_since(begin) > c.to.seconds_since(c.from)) {
        c.from = begin;
        c.to = end;
        c.highest_altitude_rad = highest;
      }
    }
    return c.to.seconds_since(c.from) / 60 >= options_.least_minutes;
  }

  const NightSteps& night_;
  const Imaging& imaging_;
  const CandidateOptions& options_;
  std::vector<NightStep> useful_;
  double dark_min_ = 0;
};

Result<void> check(const Imaging& i, const CandidateOptions& o) {
  if (!(i.field_width_deg > 0 && i.field_height_deg > 0 && i.scale_arcsec_px > 0))
    return Error(Code::kInvalidInput, "the field of the rig is empty: give focal length, pixel size and pixels");
  if (!(o.overlap >= 0 && o.overlap < 0.9))
    return Error(Code::kInvalidInput, fmt::format("an overlap of {:g} is not between 0 and 0.9", o.overlap));
  if (!(o.snr > 0))
    return Error(Code::kInvalidInput, fmt::format("a signal-to-noise ratio of {:g} asks for nothing", o.snr));
  if (o.constellation.empty()) return {};
  for (const sky::ConstellationName& c : sky::constellation_names())
    if (c.name == o.constellation || c.abbreviation == o.constellation) return {};
  return Error(Code::kInvalidInput,
               fmt::format("no constellation is called '{}'; write its Latin name or three letters, "
                           "such as Triangulum or Tri",
                           o.constellation));
}

// What lies in the field of a better one goes with it.
std::vector<Candidate> one_per_field(const catalog::ObjectFile& objects, std::vector<Candidate> ranked,
                                     const Imaging& imaging, std::size_t count) {
  const double near = deg_to_rad(std::min(imaging.field_width_deg, imaging.field_height_deg)) / 2;
  std::vector<Candidate> chosen;
  for (Candidate& c : ranked) {
    const auto place = objects.place(c.number);
    const auto holder = std::find_if(chosen.begin(), chosen.end(), [&](const Candidate& better) {
      const double reach = std::max(near, deg_to_rad(objects.major_arcmin(better.number) / 120));
      return sky::separation_rad(place, objects.place(better.number)) < reach;
    });
    if (holder != chosen.end()) {
      // The great one gives the name, not its companion: M 31 and M 32.
      const bool greater = objects.major_arcmin(c.number) > 3 * objects.major_arcmin(holder->number) &&
                           promise_of(objects.object(c.number)) >= promise_of(objects.object(holder->number));
      if (greater) {
        c.with_it = std::move(holder->with_it);
        std::swap(*holder, c);
      }
      holder->with_it.push_back(c.number);
    } else if (chosen.size() < count) {
      chosen.push_back(std::move(c));
    }
  }
  return chosen;
}

bool wanted(const SkyObject& o, const CandidateOptions& options, double smallest_arcmin) {
  if (!o.major_arcmin || *o.major_arcmin < smallest_arcmin || *o.major_arcmin > options.largest_arcmin) return false;
  if (options.lines_only && !catalog::shines_in_lines(o.kind)) return false;
  if (!options.kinds.empty() && std::find(options.kinds.begin(), options.kinds.end(), o.kind) == options.kinds.end())
    return false;
  if (options.constellation.empty()) return true;
  const sky::ConstellationName& c = sky::constellation(o.place);
  return c.name == options.constellation || c.abbreviation == options.constellation;
}

}  // namespace

int panels_along(double size_deg, double field_deg, double overlap) {
  if (size_deg <= field_deg) return 1;
  return 1 + static_cast<int>(std::ceil((size_deg - field_deg) / (field_deg * (1 - overlap)) - 1e-9));
}

double minute_weight(const Imaging& i, double source_e_s, double light_ratio, double sky_ratio) {
  return light_ratio * light_ratio * (source_e_s + i.sky_e_s + i.other_e_s) /
         (light_ratio * source_e_s + sky_ratio * i.sky_e_s + i.other_e_s);
}

Result<Candidates> find_candidates(const catalog::ObjectFile& objects, const NightSteps& night, const Imaging& imaging,
                                   const CandidateOptions& options, const Context& ctx) {
  NG_CHECK(check(imaging, options));
  const double smallest = options.smallest_arcmin > 0 ? options.smallest_arcmin
                                                      : 2 * std::min(imaging.field_width_deg, imaging.field_height_deg);
  const double dec_reach = kPi / 2;
  const Search search(night, imaging, options);
  Candidates result;
  for (std::uint32_t i = 0; i < objects.size(); ++i) {
    if (i % 1024 == 0 && ctx.cancelled()) return Error(Code::kCancelled, "stopped");
    // Below the horizon at its highest: not even looked at.
    if (std::fabs(objects.place(i).dec_rad - night.site().latitude_rad) > dec_reach) continue;
    if (!(objects.major_arcmin(i) >= smallest)) continue;
    const SkyObject o = objects.object(i);
    if (!wanted(o, options, smallest)) continue;
    ++result.considered;
    const sky::Direction of_date = night.of_date(o.place);
    if (night.sun_separation_rad(of_date) < kSunRefused) {
      ++result.near_sun;
      continue;
    }
    if (auto c = search.look(i, o, of_date)) {
      result.best.push_back(*c);
    } else {
      ++result.too_low;
    }
  }
  std::sort(result.best.begin(), result.best.end(), [](const Candidate& a, const Candidate& b) {
    return a.worth != b.worth ? a.worth > b.worth : a.number < b.number;
  });
  result.best = one_per_field(objects, std::move(result.best), imaging, options.count);
  return result;
}

}  // namespace ng::plan

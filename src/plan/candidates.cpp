#include "plan/candidates.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/angle.h"
#include "plan/object_brightness.h"
#include "sky/constellation.h"
#include "sky/coordinates.h"

namespace ng::plan {
namespace {

using catalog::ObjectKind;
using catalog::SkyObject;

constexpr double kSunRefused = deg_to_rad(30);
constexpr double kDarkSun = deg_to_rad(-18), kUsefulSun = deg_to_rad(-12);

// 1 where the object fills between a quarter and all of the shorter side; less where it is smaller, or takes panels:
// the hours of all panels are in the need already, so only the trouble with them counts.
double fit_of(double size_deg, const Imaging& imaging, int panels) {
  constexpr double kComfortable = 0.25;
  const double share = size_deg / std::min(imaging.field_width_deg, imaging.field_height_deg);
  return share < kComfortable ? share / kComfortable : 1.0 / std::pow(panels, 0.25);
}

// What a night gives to be used. Stars are points and are there within an hour, more brings little; everything else has
// fainter outskirts. Less than a few hours do not pay for a set-up. Common practice, no source.
double use_of(const SkyObject& o, double equivalent_min) {
  constexpr double kPays_min = 180, kClusterDone_min = 60;
  const bool stars = o.kind == ObjectKind::kOpenCluster || o.kind == ObjectKind::kGlobularCluster;
  const double enough = stars ? std::sqrt(std::min(1.0, kClusterDone_min / std::max(equivalent_min, 1.0))) : 1.0;
  return std::min(1.0, equivalent_min / kPays_min) * enough;
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
      if (s.sun_altitude_rad <= kUsefulSun) useful_.push_back(s);
  }

  // Nothing when it stands too low for too long; its `dark_min` and the rest are filled otherwise.
  [[nodiscard]] std::optional<Candidate> look(std::uint32_t number, const SkyObject& o, sky::Direction of_date) const {
    Candidate c;
    c.number = number;
    const ObjectBrightness brightness = object_brightness(o);
    c.surface_brightness = brightness.mag_arcsec2;
    c.brightness_assumed = brightness.assumed;
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
    c.worth = c.fit * std::sqrt(share) * use_of(o, c.equivalent_min) * list_promise(o);
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

// The great one gives the name, not its companion: M 31 and M 32.
bool greater(const catalog::ObjectFile& objects, std::uint32_t a, std::uint32_t b) {
  return objects.major_arcmin(a) > 3 * objects.major_arcmin(b) &&
         list_promise(objects.object(a)) >= list_promise(objects.object(b));
}

// What lies in the field of a better one, or what a greater one holds, goes with it.
std::vector<Candidate> one_per_field(const catalog::ObjectFile& objects, std::vector<Candidate> ranked,
                                     const Imaging& imaging, std::size_t count) {
  const double near = deg_to_rad(std::min(imaging.field_width_deg, imaging.field_height_deg)) / 2;
  const auto half = [&objects](std::uint32_t number) { return deg_to_rad(objects.major_arcmin(number) / 120); };
  std::vector<Candidate> chosen;
  for (Candidate& c : ranked) {
    const auto place = objects.place(c.number);
    const auto holder = std::find_if(chosen.begin(), chosen.end(), [&](const Candidate& better) {
      const auto other = objects.place(better.number);
      const double reach = std::max(near, half(better.number)), own = half(c.number);
      if (std::fabs(place.dec_rad - other.dec_rad) > std::max(reach, own)) return false;
      const double apart = sky::separation_rad(place, other);
      return apart < reach || (apart < own && greater(objects, c.number, better.number));
    });
    if (holder == chosen.end()) {
      if (chosen.size() < count) chosen.push_back(std::move(c));
      continue;
    }
    if (greater(objects, c.number, holder->number)) {
      c.with_it = std::move(holder->with_it);
      std::swap(*holder, c);
    }
    holder->with_it.push_back(c.number);
  }
  std::stable_sort(chosen.begin(), chosen.end(),
                   [](const Candidate& a, const Candidate& b) { return a.worth > b.worth; });
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

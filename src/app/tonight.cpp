#include "app/tonight.h"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cmath>

#include "app/local_time.h"
#include "app/targets.h"
#include "app/workspace.h"
#include "base/angle.h"
#include "plan/candidates.h"
#include "rig/signal.h"
#include "rig/spectrum.h"
#include "sky/constellation.h"
#include "sky/extinction.h"

namespace ng::app {
namespace {

constexpr double kStep_s = 300;
constexpr double kVisual_nm = 550;
constexpr double kGalaxyColour = 0.65;  // B-V of a spiral; common practice, no source
constexpr double kReadNoiseShare = 0.05;

struct Prepared {
  Workspace workspace;
  LocalZone zone;
  rig::Filter filter;
  sky::Site site;
  plan::SiteSky sky;
};

Result<std::vector<catalog::ObjectKind>> kinds_of(const std::string& word) {
  using catalog::ObjectKind;
  if (word.empty()) return std::vector<ObjectKind>();
  if (word == "galaxy") return std::vector{ObjectKind::kGalaxy};
  if (word == "cluster") return std::vector{ObjectKind::kOpenCluster, ObjectKind::kGlobularCluster};
  if (word == "nebula")
    return std::vector{ObjectKind::kEmissionNebula, ObjectKind::kReflectionNebula, ObjectKind::kBrightNebula,
                       ObjectKind::kStarForming,    ObjectKind::kPlanetaryNebula,  ObjectKind::kSupernovaRemnant,
                       ObjectKind::kDarkNebula};
  std::string all;
  for (int i = 0; i < catalog::kObjectKinds; ++i) {
    const auto kind = static_cast<ObjectKind>(i);
    if (word == catalog::kind_name(kind)) return std::vector{kind};
    all += fmt::format(", {}", catalog::kind_name(kind));
  }
  return Error(Code::kInvalidInput, fmt::format("--kind: '{}' is none of nebula, cluster{}", word, all));
}

Result<Prepared> prepare(const TonightRequest& r) {
  NG_TRY(Workspace w, open_workspace(r.workspace));
  NG_TRY(const LocalZone zone, LocalZone::find(w.site.time_zone));
  if (w.rig.filters.empty())
    return Error(Code::kInvalidInput, "rig.toml names no filter; without a wheel give one entry");
  rig::Filter filter = w.rig.filters.front();
  if (!r.filter.empty()) {
    NG_TRY(filter, w.rig.filter(r.filter));
  }
  const sky::Site site{deg_to_rad(w.site.latitude_deg), deg_to_rad(w.site.longitude_deg), w.site.elevation_m};
  const plan::SiteSky sky{w.site.sky_mag_arcsec2, w.site.extinction_mag_airmass.value_or(sky::clear_air_extinction(
                                                      w.site.elevation_m / 1000, kVisual_nm))};
  return Prepared{std::move(w), zone, std::move(filter), site, sky};
}

plan::Imaging imaging_of(const Prepared& p) {
  const rig::Rig& rig = p.workspace.rig;
  const auto rate = [&](double b_minus_v) {
    return rig::band_response(rig.optics, p.filter, rig.sensor.quantum_efficiency, b_minus_v).electrons_v0;
  };
  plan::Imaging i;
  i.scale_arcsec_px = rig.scale_arcsec_px();
  const double area = i.scale_arcsec_px * i.scale_arcsec_px;
  i.sky_e_s = rate(p.workspace.site.sky_b_minus_v) * area * std::pow(10.0, -0.4 * p.sky.dark_zenith_mag_arcsec2);
  i.source_zero_mag_e_s = rate(kGalaxyColour) * area * sky::transmission(p.sky.extinction_mag_airmass, 1);
  // Through a narrow filter, what shines in lines shines in one of them, about half of its light within V (89 nm wide;
  // common practice, no source); through a wide one as anything else.
  constexpr double kNarrow_nm = 30, kVisualWidth_nm = 89, kShareOfLine = 0.5;
  i.line_zero_mag_e_s = i.source_zero_mag_e_s;
  if (p.filter.width_nm < kNarrow_nm)
    i.line_zero_mag_e_s *= kShareOfLine * std::max(1.0, kVisualWidth_nm / p.filter.width_nm);
  const double dark = rig.sensor.dark_rate_e_s(rig.cooler.temperature_c);
  const double sub_s = rig::shortest_sub_s(rig.sensor.read_noise_e, i.sky_e_s + dark, kReadNoiseShare);
  i.other_e_s = dark + rig.sensor.read_noise_e * rig.sensor.read_noise_e / sub_s;
  i.field_width_deg = rig.field_width_deg();
  i.field_height_deg = rig.field_height_deg();
  i.seeing_fwhm_arcsec = p.workspace.site.seeing_fwhm_arcsec;
  i.past_meridian_min = rig.mount.past_meridian_min;
  return i;
}

Result<plan::CandidateOptions> options_of(const TonightRequest& r, const Prepared& p,
                                          const catalog::ObjectFile& objects) {
  plan::CandidateOptions o;
  NG_TRY(o.kinds, kinds_of(r.kind));
  o.constellation = r.constellation;
  o.smallest_arcmin = r.smallest_arcmin;
  o.largest_arcmin = r.largest_arcmin;
  o.least_minutes = r.least_min;
  o.lines_only = r.lines;
  o.overlap = r.overlap;
  o.snr = r.snr;
  o.count = static_cast<std::size_t>(r.count);
  const rig::ObservingSite& site = p.workspace.site;
  o.limit_rad = [&site, lowest = r.lowest_altitude_deg](double azimuth_rad) {
    const double azimuth_deg = rad_to_deg(azimuth_rad);
    return deg_to_rad(lowest ? std::max(*lowest, site.horizon.altitude_deg(azimuth_deg)) : site.limit_deg(azimuth_deg));
  };
  std::vector<std::pair<std::uint32_t, double>> hours;
  for (const auto& [name, h] : r.collected_h) {
    NG_CHECK(find_object(objects, name).ok() ? Result<void>() : Result<void>(find_object(objects, name).error()));
    hours.emplace_back(*objects.find(name), h);
  }
  o.collected_h = [hours](std::uint32_t number) {
    double sum = 0;
    for (const auto& [n, h] : hours)
      if (n == number) sum += h;
    return sum;
  };
  return o;
}

TonightObject object_of(const catalog::ObjectFile& objects, const plan::Candidate& c, const LocalZone& zone) {
  constexpr const char* kMonths[] = {"January", "February", "March",     "April",   "May",      "June",
                                     "July",    "August",   "September", "October", "November", "December"};
  const catalog::SkyObject o = objects.object(c.number);
  TonightObject out;
  out.name = o.names.front();
  out.title = title_of(o);
  out.kind = catalog::kind_name(o.kind);
  out.constellation = sky::constellation(o.place).name;
  if (o.host) out.host = objects.object(*o.host).names.front();
  out.ra_deg = rad_to_deg(o.place.ra_rad);
  out.dec_deg = rad_to_deg(o.place.dec_rad);
  out.worth_percent = 100 * c.worth;
  out.equivalent_min = c.equivalent_min;
  out.dark_min = c.dark_min;
  out.from = c.from.iso();
  out.to = c.to.iso();
  out.transit = c.transit.iso();
  out.local_from = zone.clock(c.from);
  out.local_to = zone.clock(c.to);
  out.local_transit = zone.clock(c.transit);
  if (c.flip) {
    out.flip = c.flip->iso();
    out.local_flip = zone.clock(*c.flip);
  }
  out.highest_alt_deg = rad_to_deg(c.highest_altitude_rad);
  if (c.moon_separation_rad < kPi) out.moon_separation_deg = rad_to_deg(c.moon_separation_rad);
  out.magnitude = o.magnitude;
  out.surface_brightness_mag_arcsec2 = c.surface_brightness;
  out.brightness_assumed = c.brightness_assumed;
  out.size_arcmin = o.major_arcmin.value_or(0);
  out.size_px = c.size_px;
  out.panels_across = c.panels_across;
  out.panels_up = c.panels_up;
  out.needed_h = c.needed_h;
  if (c.needed_h && *c.needed_h > 0) out.tonight_percent = std::min(100.0, 100 * c.equivalent_min / 60 / *c.needed_h);
  for (const std::uint32_t other : c.with_it) out.with_it.push_back(title_of(objects.object(other)));
  out.best_month = kMonths[c.best_month - 1];
  return out;
}

void describe_night(TonightReply& reply, const plan::NightSteps& night, const LocalZone& zone) {
  const sky::Night& n = night.night();
  const auto both = [&](const std::optional<Instant>& at, std::optional<std::string>& utc,
                        std::optional<std::string>& local) {
    if (!at) return;
    utc = at->iso();
    local = zone.clock(*at);
  };
  both(n.astronomical_dusk, reply.dark_from, reply.local_dark_from);
  both(n.astronomical_dawn, reply.dark_to, reply.local_dark_to);
  both(n.moonrise, reply.moonrise, reply.local_moonrise);
  both(n.moonset, reply.moonset, reply.local_moonset);
  if (n.astronomical_dusk && n.astronomical_dawn)
    reply.dark_min = n.astronomical_dawn->seconds_since(*n.astronomical_dusk) / 60;
  reply.moon_illuminated_fraction = night.moon_phase().illuminated_fraction;
  if (!night.steps().empty() && reply.dark_min <= 0) {
    reply.notes.push_back(fmt::format(
        "no astronomical darkness: the Sun stays within {:.1f} degrees of the horizon; twilight is in the numbers",
        -rad_to_deg(n.sun_lowest_rad)));
  }
}

// A bright Moon over most of the darkness, and a filter that lets its light through.
void note_moonlight(TonightReply& reply, const plan::NightSteps& night, const rig::Filter& filter) {
  constexpr double kBright = 0.4, kWide_nm = 30;
  const auto& steps = night.steps();
  const auto dark = [](const plan::NightStep& s) { return s.sun_altitude_rad <= deg_to_rad(-12.0); };
  const auto hours = [&](auto counted) {
    return static_cast<double>(std::count_if(steps.begin(), steps.end(), counted)) * night.step_min() / 60;
  };
  const double dark_h = hours(dark);
  const double moonlit_h = hours([&](const plan::NightStep& s) { return dark(s) && s.moon_altitude_rad > 0; });
  if (reply.moon_illuminated_fraction < kBright || 2 * moonlit_h < dark_h || filter.width_nm < kWide_nm) return;
  reply.notes.push_back(fmt::format(
      "the Moon, {:.0f} % lit, is up for {:.1f} of {:.1f} h: narrow filters lose less; see --filter and --lines",
      100 * reply.moon_illuminated_fraction, moonlit_h, dark_h));
}

Instant now() {
  using namespace std::chrono;
  return Instant::from_unix_us(duration_cast<microseconds>(system_clock::now().time_since_epoch()).count());
}

}  // namespace

Result<TonightReply> tonight(const TonightRequest& request, const Context& ctx) {
  NG_TRY(const Prepared p, prepare(request));
  NG_TRY(const catalog::ObjectFile objects, open_objects());
  Instant evening = now();
  if (!request.date.empty()) {
    NG_TRY(evening, p.zone.moment(request.date, 18));
  }
  const auto begun = std::chrono::steady_clock::now();
  NG_TRY(const plan::NightSteps night, plan::NightSteps::make(evening, p.site, p.sky, kStep_s));
  const plan::Imaging imaging = imaging_of(p);
  NG_TRY(const plan::CandidateOptions options, options_of(request, p, objects));
  NG_TRY(const plan::Candidates found, plan::find_candidates(objects, night, imaging, options, ctx));

  TonightReply reply;
  reply.date = p.zone.date(night.night().midnight.plus_seconds(-43200));
  reply.site = p.workspace.site.name;
  reply.rig = p.workspace.rig.name;
  reply.filter = p.filter.name;
  reply.time_zone = p.workspace.site.time_zone;
  reply.notes = p.workspace.notes;
  describe_night(reply, night, p.zone);
  note_moonlight(reply, night, p.filter);
  reply.field_width_deg = imaging.field_width_deg;
  reply.field_height_deg = imaging.field_height_deg;
  reply.scale_arcsec_px = imaging.scale_arcsec_px;
  reply.considered = found.considered;
  reply.too_low = found.too_low;
  reply.near_sun = found.near_sun;
  for (const plan::Candidate& c : found.best) reply.objects.push_back(object_of(objects, c, p.zone));
  reply.seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - begun).count();
  if (reply.objects.empty() && night.steps().empty())
    return Error(Code::kTooFew,
                 fmt::format("on {} the Sun does not set: there is no night; choose another date", reply.date));
  if (reply.objects.empty())
    return Error(
        Code::kTooFew,
        fmt::format(
            "nothing suits this night: of {} objects of the kinds and sizes asked for, {} stand too low for "
            "{:g} min and {} are near the Sun; ask for less by --lowest-altitude-deg, --least-min or --smallest-arcmin",
            found.considered, found.too_low, request.least_min, found.near_sun));
  return reply;
}

}  // namespace ng::app

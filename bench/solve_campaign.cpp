// solve_campaign sky OUT [STARS]            writes the invented sky as a catalogue
// solve_campaign blind|near|points SKY N    solves N invented frames of that catalogue; fails when one is solved
// falsely
//
// blind: any pointing, at least 12 catalogue stars. near: 5 to 11 catalogue stars, a hint up to 2 degrees off and a
// scale within 10 per cent. points: random points, blind and with a hint: no solution may be claimed. Times are
// processor times of one thread. See bench/README.md.
#include <fmt/format.h>
#include <sys/resource.h>

#include <algorithm>
#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <fstream>
#include <string>

#include "astrometry/solve.h"
#include "bench/solve_sky.h"
#include "math/random.h"

namespace {

using namespace ng;

double processor_s() {
  timespec t{};
  clock_gettime(CLOCK_THREAD_CPUTIME_ID, &t);
  return static_cast<double>(t.tv_sec) + 1e-9 * static_cast<double>(t.tv_nsec);
}

double peak_mib() {
  rusage usage{};
  getrusage(RUSAGE_SELF, &usage);
  return static_cast<double>(usage.ru_maxrss) / 1024;
}

int make_sky(const std::string& out, std::size_t stars) {
  const double begun = processor_s();
  const auto bytes = catalog::encode_sky_file(bench::invented_sky(stars, 5), {}, {});
  if (!bytes.ok()) return 1;
  std::ofstream(out, std::ios::binary)
      .write(reinterpret_cast<const char*>(bytes->data()), static_cast<std::streamsize>(bytes->size()));
  fmt::print("{} stars, {:.1f} MB, {:.1f} s, peak memory {:.0f} MiB\n", stars, static_cast<double>(bytes->size()) / 1e6,
             processor_s() - begun, peak_mib());
  return 0;
}

// Largest distance between a catalogue star's true place and where the solution puts it, near the corners and the
// middle.
double worst_px(const bench::InventedFrame& f, const Wcs& wcs) {
  double worst = 0;
  const double half = f.field.diagonal_px() / 2;
  for (const double sx : {-0.9, 0.0, 0.9})
    for (const double sy : {-0.9, 0.0, 0.9}) {
      const double dx = sx * f.field.width / 2, dy = sy * f.field.height / 2;
      const math::Angles at = math::to_angles(f.truth.direction({f.truth.middle.x + dx, f.truth.middle.y + dy}));
      const double stretch = 1 + f.distortion * (dx * dx + dy * dy) / (half * half);
      const auto p = wcs.pixel_of({at.longitude_rad, at.latitude_rad});
      if (!p) return 1e9;
      worst =
          std::max(worst, std::hypot(p->x - f.truth.middle.x - dx * stretch, p->y - f.truth.middle.y - dy * stretch));
    }
  return worst;
}

astrometry::Hint hint_near(const bench::InventedFrame& f, std::uint64_t number) {
  math::Random random(77, number);
  const double off = deg_to_rad(2) * std::sqrt(random.uniform()), angle = 2 * kPi * random.uniform();
  const math::Vec3& z = f.truth.axes[2];
  astrometry::Hint hint;
  for (std::size_t k = 0; k < 3; ++k)
    hint.centre[k] =
        z[k] + std::tan(off) * (std::cos(angle) * f.truth.axes[0][k] + std::sin(angle) * f.truth.axes[1][k]);
  hint.centre = math::unit(hint.centre);
  hint.radius_rad = deg_to_rad(2);
  const double centre = f.truth.scale_rad * (0.92 + 0.16 * random.uniform());
  hint.low_scale_rad = 0.9 * centre;
  hint.high_scale_rad = 1.1 * centre;
  return hint;
}

struct Tally {
  int frames = 0, solved = 0, wrong = 0;
  std::vector<double> seconds, worst, failed;
  std::vector<std::string> lines;

  int report(const char* what) {
    std::sort(seconds.begin(), seconds.end());
    std::sort(worst.begin(), worst.end());
    fmt::print("{}: {} frames, {} solved ({:.1f} %), {} wrong\n", what, frames, solved,
               100.0 * solved / std::max(1, frames), wrong);
    fmt::print("  seconds: median {:.4f}, 95 % {:.4f}, worst {:.4f}; peak memory {:.0f} MiB\n",
               seconds[seconds.size() / 2], seconds[seconds.size() * 95 / 100], seconds.back(), peak_mib());
    if (!worst.empty())
      fmt::print("  largest error on the frame: median {:.2f} px, 95 % {:.2f} px, worst {:.2f} px\n",
                 worst[worst.size() / 2], worst[worst.size() * 95 / 100], worst.back());
    for (const std::string& line : lines) fmt::print("  {}\n", line);
    return wrong == 0 ? 0 : 1;
  }
};

int run(const std::string& what, const std::string& path, int count) {
  const auto sky = catalog::SkyFile::open(path);
  if (!sky.ok()) {
    fmt::print(stderr, "{}\n", sky.error().message());
    return 1;
  }
  const catalog::SkyFile* skies[] = {&*sky};
  Tally tally;
  for (int i = 0; i < count; ++i) {
    const auto number = static_cast<std::uint64_t>(i);
    bench::FrameWishes wishes;
    if (what == "near") wishes.fewest_catalogue_stars = 5, wishes.most_catalogue_stars = 11;
    const bool points = what == "points";
    const bench::InventedFrame f =
        points ? bench::random_points(3, number) : bench::invented_frame(*sky, wishes, 21, number);
    astrometry::Hint hint;
    hint.low_scale_rad = deg_to_rad(0.05) / f.field.diagonal_px();
    hint.high_scale_rad = deg_to_rad(100) / f.field.diagonal_px();
    if (what == "near") hint = hint_near(f, number);
    if (points && i % 2 == 1) {
      bench::InventedFrame somewhere = bench::invented_frame(*sky, {}, 22, number);
      hint = hint_near(somewhere, number);
    }
    const double begun = processor_s();
    const auto solution = astrometry::solve(f.field, skies, 2000, hint, {}, {});
    tally.seconds.push_back(processor_s() - begun);
    ++tally.frames;
    if (!solution.ok()) {
      if (!points)
        tally.lines.push_back(fmt::format(
            "not solved: {} width {:.2f} deg, {} stars, {} of the catalogue, distortion "
            "{:.2f} %, {:.3f} s",
            i, f.width_deg, f.field.stars.size(), f.catalogue_stars, 100 * f.distortion, tally.seconds.back()));
      continue;
    }
    ++tally.solved;
    const double off = points ? 1e9 : worst_px(f, solution->fit.wcs);
    // Few stars leave the corners uncertain; a solution is false when it is nowhere near.
    if (off > 0.02 * f.field.diagonal_px()) {
      ++tally.wrong;
      tally.lines.push_back(fmt::format(
          "WRONG: {} width {:.2f}, {} stars, matched {}, log odds {:.1f} of {:.1f}, off {:.0f} px", i, f.width_deg,
          f.field.stars.size(), solution->found.matched, solution->found.log_odds, solution->found.log_proposals, off));
    } else {
      tally.worst.push_back(off);
    }
  }
  return tally.report(what.c_str());
}

}  // namespace

int main(int argc, char** argv) {
  const std::string what = argc > 1 ? argv[1] : "";
  if (what == "sky" && argc >= 3) return make_sky(argv[2], argc > 3 ? std::strtoul(argv[3], nullptr, 10) : 2500000);
  if ((what == "blind" || what == "near" || what == "points") && argc == 4)
    return run(what, argv[2], std::atoi(argv[3]));
  fmt::print(stderr, "use: solve_campaign sky OUT [STARS] | blind SKY N | near SKY N | points SKY N\n");
  return 2;
}

#include "plan/schedule_job.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace ng::plan {
namespace {

constexpr double kImpossible = -1e300;
constexpr int kSlopeRounds = 9;       // of the golden section
constexpr double kSlopeRange = 20;    // above the flattest slope of the value
constexpr double kSameValue = 1e-12;  // of values of order one

struct Label {
  double gained, paid;
  int parent;
  int step;
  Entry entry;  // kNone: one step more
  bool left;    // a stretch that ends
};

class OneJob {
 public:
  OneJob(const ScheduleProblem& problem, int job, const JobPrices& prices)
      : problem_(problem),
        job_(problem.jobs[job]),
        prices_(prices),
        steps_(problem.steps()),
        gain_(steps_),
        out_(steps_ + 1),
        in_(steps_ + 1) {
    for (int t = 0; t < steps_; ++t) {
      const double minute = job_.efficiency * job_.worth[t];
      const double flip = problem.flip_step[job_.target] == t ? problem.flip_min : 0;
      gain_[t] = {
          (problem.step_min - flip) * minute, (problem.step_min - problem.centring_min - problem.filter_min) * minute,
          (problem.step_min - problem.filter_min - flip) * minute, (problem.step_min - problem.centring_min) * minute};
    }
  }

  JobUse run() {
    choose_slope();
    best_value_ = std::max(0.0, value_of_linear_best() - 4 * kSameValue);
    labels_.push_back({0, 0, -1, -1, Entry::kNone, false});
    outside_ = {0};
    for (int t = 0; t < steps_; ++t) step(t);
    return use();
  }

 private:
  [[nodiscard]] double price_of(Entry entry, int t) const {
    if (entry == Entry::kFromTarget) return prices_.from_target[t];
    return entry == Entry::kFromFilter ? prices_.from_filter[t] : 0;
  }

  [[nodiscard]] double earned(int t) const { return std::max(prices_.to_target[t], prices_.to_filter[t]); }

  // The most that a linear value of `slope` can still bring from each step on, outside and inside a stretch.
  double linear(double slope) {
    out_[steps_] = in_[steps_] = 0;
    for (int t = steps_ - 1; t >= 0; --t) {
      double begin = kImpossible, go_on = kImpossible;
      if (job_.worth[t] > 0) {
        const double rest = in_[t + 1] - prices_.step[t];
        for (const Entry e : {Entry::kFresh, Entry::kFromTarget, Entry::kFromFilter})
          begin = std::max(begin, slope * gain(e, t) - price_of(e, t) + rest);
        go_on = slope * gain(Entry::kNone, t) + rest;
      }
      out_[t] = std::max(out_[t + 1], begin);
      in_[t] = std::max(go_on, out_[t] + earned(t));
    }
    return out_[0];
  }

  // Where the bound of the whole is smallest; it is convex in the slope. Any slope would do.
  void choose_slope() {
    const double n = job_.needed_min, w = job_.weight;
    const auto conjugate = [n, w](double slope) {
      const double y = std::min(n, w * w / (4 * slope * slope * n));
      return w * std::sqrt(y / n) - slope * y;
    };
    const auto bound = [&](double log_slope) {
      const double slope = std::exp(log_slope);
      return conjugate(slope) + linear(slope);
    };
    constexpr double kGolden = 0.6180339887498949;
    double low = std::log(w / (2 * n)), high = low + std::log(kSlopeRange);
    double a = high - kGolden * (high - low), b = low + kGolden * (high - low);
    double at_a = bound(a), at_b = bound(b);
    for (int round = 0; round < kSlopeRounds; ++round) {
      if (at_a < at_b) {
        high = b, b = a, at_b = at_a;
        a = high - kGolden * (high - low), at_a = bound(a);
      } else {
        low = a, a = b, at_a = at_b;
        b = low + kGolden * (high - low), at_b = bound(b);
      }
    }
    slope_ = std::exp(at_a < at_b ? a : b);
    linear(slope_);
    above_ = conjugate(slope_);
  }

  // What the use that is best for the linear value is worth: labels that cannot exceed it need not be kept.
  [[nodiscard]] double value_of_linear_best() const {
    double gained = 0, paid = 0;
    bool inside = false;
    for (int t = 0; t < steps_; ++t) {
      const double rest = in_[t + 1] - prices_.step[t];
      if (inside && in_[t] == out_[t] + earned(t)) {
        paid -= earned(t);
        inside = false;
      }
      if (!inside && out_[t] == out_[t + 1]) continue;
      Entry entry = Entry::kNone;
      if (!inside)
        for (const Entry e : {Entry::kFresh, Entry::kFromTarget, Entry::kFromFilter})
          if (out_[t] == slope_ * gain(e, t) - price_of(e, t) + rest) entry = e;
      gained += gain(entry, t);
      paid += prices_.step[t] + price_of(entry, t);
      inside = true;
    }
    return job_value(job_, gained) - paid;
  }

  [[nodiscard]] double gain(Entry entry, int t) const { return gain_[t][static_cast<int>(entry)]; }

  [[nodiscard]] bool hopeless(const Label& label, double rest) const {
    return above_ + slope_ * label.gained - label.paid + rest <= best_value_ + kSameValue;
  }

  void add(std::vector<int>& group, const Label& label, double rest) {
    if (hopeless(label, rest)) return;
    group.push_back(static_cast<int>(labels_.size()));
    labels_.push_back(label);
    const double value = job_value(job_, label.gained) - label.paid;
    if (value <= best_value_) return;
    best_value_ = value;
    best_ = group.back();
  }

  // Groups are kept in falling order of what is gained; what was added from `first` on has that order in itself.
  void merge(std::vector<int>& group, std::size_t first) const {
    std::inplace_merge(group.begin(), group.begin() + static_cast<std::ptrdiff_t>(first), group.end(),
                       [this](int a, int b) { return labels_[a].gained > labels_[b].gained; });
  }

  // Of labels that gain alike the dearer may come first and stay: a label too many, no answer lost.
  void drop_worse(std::vector<int>& group, double rest) const {
    double cheapest = -kImpossible;
    std::erase_if(group, [&](int label) {
      if (labels_[label].paid >= cheapest || hopeless(labels_[label], rest)) return true;
      cheapest = labels_[label].paid;
      return false;
    });
  }

  void step(int t) {
    const std::size_t waiting = outside_.size();
    for (const int i : inside_) {
      const Label from = labels_[i];
      add(outside_, {from.gained, from.paid - earned(t), i, t, Entry::kNone, true}, out_[t]);
    }
    merge(outside_, waiting);
    drop_worse(outside_, out_[t]);
    std::vector<int> next;
    if (job_.worth[t] > 0) {
      const auto extend = [&](const std::vector<int>& group, Entry e) {
        const std::size_t first = next.size();
        const double price = price_of(e, t) + prices_.step[t];
        for (const int i : group) {
          const Label from = labels_[i];
          add(next, {from.gained + gain(e, t), from.paid + price, i, t, e, false}, in_[t + 1]);
        }
        merge(next, first);
      };
      for (const Entry e : {Entry::kFresh, Entry::kFromTarget, Entry::kFromFilter}) extend(outside_, e);
      extend(inside_, Entry::kNone);
      drop_worse(next, in_[t + 1]);
    }
    inside_ = std::move(next);
  }

  [[nodiscard]] JobUse use() const {
    JobUse u;
    u.taken.assign(steps_, false);
    u.left.assign(steps_, Entry::kNone);
    u.entry.assign(steps_, Entry::kNone);
    u.gained_min = labels_[best_].gained;
    u.value = best_value_;
    for (int i = best_; labels_[i].parent >= 0; i = labels_[i].parent) {
      const Label& label = labels_[i];
      if (label.left) {
        const bool target = prices_.to_target[label.step] > prices_.to_filter[label.step];
        u.left[label.step] = target ? Entry::kFromTarget : Entry::kFromFilter;
      } else {
        u.taken[label.step] = true;
        u.entry[label.step] = label.entry;
      }
    }
    return u;
  }

  const ScheduleProblem& problem_;
  const ScheduleJob& job_;
  const JobPrices& prices_;
  int steps_;
  std::vector<std::array<double, 4>> gain_;  // of a step, by Entry; kNone: going on
  std::vector<double> out_, in_;
  double slope_ = 1, above_ = 0;
  std::vector<Label> labels_;
  std::vector<int> outside_, inside_;
  double best_value_ = 0;
  int best_ = 0;
};

}  // namespace

JobUse best_use(const ScheduleProblem& problem, int job, const JobPrices& prices) {
  return OneJob(problem, job, prices).run();
}

}  // namespace ng::plan

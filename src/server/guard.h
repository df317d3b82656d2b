// server/guard.h - who may ask. Every page that a browser has open can send requests to where the server listens; these
// rules let only our own through.
#pragma once

#include <chrono>
#include <mutex>
#include <optional>
#include <string>
#include <vector>

namespace ng::server {

// Where a request comes from, as its headers say.
struct Asker {
  std::string host;    // Host; empty where there is none
  std::string origin;  // Origin; empty where there is none
  std::string site;    // Sec-Fetch-Site; likewise
};

// "127.0.0.1:8765" and the other names under which the page is found; `more` as names or addresses without the port.
[[nodiscard]] std::vector<std::string> hosts_of(int port, const std::vector<std::string>& more);

// Why the request is refused; nothing where it is let through. A host that is none of these (another name that leads
// here) and a page from elsewhere are refused.
[[nodiscard]] std::optional<std::string> refusal(const Asker& asker, const std::vector<std::string>& hosts);

// At most so many requests a second on average, with some in reserve.
class Pace {
 public:
  Pace(double per_second, double reserve) : per_second_(per_second), reserve_(reserve), left_(reserve) {}
  // Whether one more may pass now.
  [[nodiscard]] bool pass();
  // The last that passed shall not count.
  void give_back();

 private:
  using Clock = std::chrono::steady_clock;
  const double per_second_, reserve_;
  std::mutex mutex_;
  double left_;
  Clock::time_point last_ = Clock::now();
};

}  // namespace ng::server

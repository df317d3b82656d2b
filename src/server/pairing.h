// server/pairing.h - devices of the local network that may ask. Who reads the code from the terminal gets a token of
// their own; it is kept by the browser, never in an address, and forgotten when the server stops.
#pragma once

#include <array>
#include <cstdint>
#include <mutex>
#include <optional>
#include <string>
#include <vector>

#include "base/result.h"
#include "server/guard.h"

namespace ng::server {

class Pairing {
 public:
  // Errors: kIo (the system gives no random numbers).
  [[nodiscard]] static Result<Pairing> create();
  Pairing(Pairing&& other) noexcept : code_(std::move(other.code_)), tokens_(std::move(other.tokens_)) {}

  // Eight letters and digits that no one mistakes for one another, as "K7QM-2XRD": 40 bits.
  [[nodiscard]] const std::string& code() const { return code_; }

  // A token for a device that knows the code; capitals, blanks and hyphens do not matter. Errors: kInvalidInput
  // (another code), kTooFew (too many wrong ones: wait), kExists (kMostDevices are paired), kIo.
  [[nodiscard]] Result<std::string> pair(const std::string& code);
  [[nodiscard]] bool knows(const std::string& token) const;

 private:
  Pairing() = default;
  std::string code_;
  mutable std::mutex mutex_;
  std::vector<std::string> tokens_;
  Pace wrong_{1.0 / 20, 6};  // six at once, then three a minute: 40 bits last for ages
};

// The value of a cookie in a Cookie header; empty where it is not there.
[[nodiscard]] std::string cookie_of(const std::string& header, const std::string& name);

}  // namespace ng::server

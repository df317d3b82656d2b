#include "server/pairing.h"

#include <sys/random.h>

#include <algorithm>
#include <cctype>

namespace ng::server {
namespace {

constexpr std::size_t kMostDevices = 32;
constexpr char kLetters[] = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ";  // 32: without 0, 1, I and O
static_assert(sizeof kLetters == 33);

Result<std::string> random_letters(std::size_t count) {
  std::array<unsigned char, 64> bytes{};
  if (getrandom(bytes.data(), count, 0) != static_cast<ssize_t>(count))
    return Error(Code::kIo, "the system gives no random numbers: devices cannot be paired safely");
  std::string text;
  for (std::size_t i = 0; i < count; ++i) text += kLetters[bytes[i] % 32];
  return text;
}

std::string plain(const std::string& code) {
  std::string text;
  for (const char c : code)
    if (std::isalnum(static_cast<unsigned char>(c)) != 0)
      text += static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
  return text;
}

// Takes as long wherever they differ.
bool same(const std::string& a, const std::string& b) {
  if (a.size() != b.size()) return false;
  int difference = 0;
  for (std::size_t i = 0; i < a.size(); ++i) difference |= a[i] ^ b[i];
  return difference == 0;
}

}  // namespace

Result<Pairing> Pairing::create() {
  Pairing pairing;
  NG_TRY(const std::string letters, random_letters(8));
  pairing.code_ = letters.substr(0, 4) + "-" + letters.substr(4);
  return pairing;
}

Result<std::string> Pairing::pair(const std::string& code) {
  // The code is not even looked at while the pace is used up: else the right guess would pass among a thousand a
  // second.
  if (!wrong_.pass()) return Error(Code::kTooFew, "too many wrong codes: wait a minute, then try again");
  if (!same(plain(code), plain(code_)))
    return Error(Code::kInvalidInput, "that is not the code that the terminal shows");
  wrong_.give_back();
  const std::lock_guard lock(mutex_);
  if (tokens_.size() >= kMostDevices)
    return Error(Code::kExists, "32 devices are paired already: stop nightglass serve and start it again");
  NG_TRY(tokens_.emplace_back(), random_letters(52));
  return tokens_.back();
}

bool Pairing::knows(const std::string& token) const {
  const std::lock_guard lock(mutex_);
  bool known = false;
  for (const std::string& t : tokens_) known = same(t, token) || known;
  return known;
}

std::string cookie_of(const std::string& header, const std::string& name) {
  for (std::size_t at = 0; at < header.size();) {
    const auto end = std::min(header.find(';', at), header.size());
    auto begin = header.find_first_not_of(' ', at);
    if (begin < end && header.compare(begin, name.size() + 1, name + "=") == 0) {
      begin += name.size() + 1;
      return header.substr(begin, end - begin);
    }
    at = end + 1;
  }
  return "";
}

}  // namespace ng::server

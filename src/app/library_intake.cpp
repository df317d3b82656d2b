#include "app/library_intake.h"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "app/export_list.h"
#include "app/library_layout.h"
#include "io/system_error.h"

namespace ng::app {
namespace {

namespace fs = std::filesystem;

constexpr int kMostOfOneName = 100000;

void failed(IngestedFile& file, const std::string& reason) {
  file.status = "failed";
  file.reason = readable(reason);
}

}  // namespace

Context Intake::silent() const {
  Context quiet = ctx_;
  quiet.progress = nullptr;
  return quiet;
}

Result<bool> Intake::settled(const Arrival& a, IngestedFile& file) {
  if (!a.maybe_there) return false;
  const auto hash = hash_file(a.from, silent());
  if (!hash.ok()) {
    if (hash.error().code() == Code::kCancelled) return hash.error();
    failed(file, hash.error().message());
    return true;
  }
  if (!a.expected_hash.empty() && *hash != a.expected_hash) {
    failed(file, kNotWhatItWas);
    return true;
  }
  return is_there(*hash, file);
}

Result<void> Intake::take(Arrival& a, IngestedFile& file) {
  store::LibraryFrame& frame = a.frame;
  NG_TRY(const bool nothing_left, settled(a, file));
  if (nothing_left) {
    ctx_.advance(frame.bytes);
    return {};
  }
  for (int n = 1; n < kMostOfOneName; ++n) {
    frame.path = n == 1 ? a.wanted : numbered(a.wanted, n);
    const fs::path to = library_.frames / frame.path;
    if (waits_for_name(frame.path)) NG_CHECK(finish());
    std::error_code error;
    if (fs::exists(fs::symlink_status(to, error))) {
      NG_TRY(const bool adopted, adopt(a, to, file));
      if (adopted) return {};
      continue;
    }
    NG_TRY(const bool free, is_free(a, frame.path));
    if (!free) continue;
    fs::create_directories(to.parent_path(), error);
    if (error) return io::system_error("cannot make the folder " + io::quoted(to.parent_path()), error.value());
    return copy(a, to, file);
  }
  return Error(Code::kExists, fmt::format("{}: too many files of this name", io::quoted(library_.frames / a.wanted)));
}

// "There already" lets a person wipe the card: the library's own copy is read before it is said. Where it is gone or
// has rotted, the file is copied again, beside what is left of it.
Result<bool> Intake::is_there(const std::string& hash, IngestedFile& file) {
  NG_TRY(const auto known, index_.by_hash(hash));
  if (!known) return false;
  const auto ours = hash_file(library_.frames / known->path, silent());
  if (!ours.ok() && ours.error().code() == Code::kCancelled) return ours.error();
  if (!ours.ok() || *ours != hash) return false;
  file.status = "there already";
  file.path = known->path;
  return true;
}

// No file has the name, but the index may: of one that is gone and perhaps comes back. Only its own content gets it.
Result<bool> Intake::is_free(const Arrival& a, const std::string& path) {
  NG_TRY(const auto row, index_.by_path(path));
  if (!row) return true;
  const auto hash = hash_file(a.from, silent());
  if (!hash.ok() && hash.error().code() == Code::kCancelled) return hash.error();
  return !hash.ok() || *hash == row->hash;  // unreadable: the copy says so
}

// A file of that name lies there: perhaps copied just before the program was killed, and not entered.
Result<bool> Intake::adopt(Arrival& a, const fs::path& to, IngestedFile& file) {
  std::error_code error;
  if (!fs::is_regular_file(to, error) || static_cast<std::int64_t>(fs::file_size(to, error)) != a.frame.bytes)
    return false;
  const auto ours = hash_file(to, silent()), theirs = hash_file(a.from, silent());
  if (!ours.ok() || !theirs.ok() || *ours != *theirs) return false;
  if (!a.expected_hash.empty() && *ours != a.expected_hash) return false;
  NG_TRY(const auto row, index_.by_path(a.frame.path));
  if (row && row->hash != *ours) return false;
  a.frame.hash = *ours;
  NG_CHECK(enter(a.frame));
  file.status = "there already";
  file.path = a.frame.path;
  ctx_.advance(a.frame.bytes);
  return true;
}

Result<void> Intake::copy(Arrival& a, const fs::path& to, IngestedFile& file) {
  auto copied = copy_hashed(a.from, to, ctx_);
  NG_CHECK(finish());  // in any case: the one before is not lost to what befell this one
  NG_TRY(VerifiedCopy made, std::move(copied));
  if (!made.file) {
    failed(file, made.unreadable);
    return {};
  }
  if (!a.expected_hash.empty() && made.hash != a.expected_hash) {
    failed(file, kNotWhatItWas);
    return {};
  }
  const auto how = ctx_.pool != nullptr ? std::launch::async : std::launch::deferred;
  auto look = [temporary = made.file->temporary_path(), to, hash = made.hash, ctx = silent()] {
    return read_back(temporary, to, hash, ctx);
  };
  on_its_way_.emplace(OnItsWay{a, file, std::move(made), std::async(how, std::move(look))});
  return {};
}

// Names that differ in the case of letters count as one: some disks make no difference.
bool Intake::waits_for_name(const std::string& path) const {
  const auto lower = [](unsigned char c) { return c >= 'A' && c <= 'Z' ? c + ('a' - 'A') : c; };
  return on_its_way_ && std::ranges::equal(path, on_its_way_->arrival.frame.path, {}, lower, lower);
}

Result<void> Intake::finish() {
  if (!on_its_way_) return {};
  OnItsWay one = std::move(*on_its_way_);
  on_its_way_.reset();
  NG_CHECK(one.looked_at.get());
  NG_TRY(const bool there, is_there(one.copy.hash, one.file));
  if (there) return {};
  NG_CHECK(one.copy.file->commit());
  one.arrival.frame.hash = one.copy.hash;
  NG_CHECK(enter(one.arrival.frame));
  one.file.status = "copied";
  one.file.path = one.arrival.frame.path;
  return {};
}

Result<void> Intake::enter(const store::LibraryFrame& frame) {
  NG_TRY(const auto known, index_.by_hash(frame.hash));
  return known ? index_.move(frame.hash, frame.path) : index_.add(frame);
}

}  // namespace ng::app

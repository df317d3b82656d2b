// base/result.h - a value, or the one clear sentence that says why there is none.
//
// Three kinds of trouble are kept apart everywhere in nightglass:
//   our bug                     -> assert; no input may reach it
//   bad input, or a bad world   -> Result with an Error: what, where, what to do
//   doubtful but computed       -> the value, with a flag beside it
// A Result must be used: ignoring one is a compiler warning, and warnings are errors.
#pragma once

#include <cassert>
#include <string>
#include <type_traits>
#include <utility>
#include <variant>

namespace ng {

enum class Code {
  kInvalidInput,  // the caller's data or options make no sense
  kNotFound,      // a file, folder, key or object is not there
  kExists,        // would overwrite something of the user's
  kCorrupt,       // a file breaks its own format
  kUnsupported,   // a valid file or option that we do not handle
  kIo,            // the operating system refused (permission, full disk, vanished drive)
  kTooFew,        // not enough data for an answer (stars, frames, points)
  kNoMatch,       // data that do not belong together (unrelated frames, wrong size)
  kCancelled,     // the user stopped it
};

// One sentence for a person: `message` says what is wrong and, where it helps, what to do about it; contexts added on
// the way up say where. text() is what the command line prints.
class Error {
 public:
  Error(Code code, std::string message) : code_(code), message_(std::move(message)) {}

  [[nodiscard]] Code code() const { return code_; }
  [[nodiscard]] const std::string& message() const { return message_; }

  // Puts "where: " in front. The outermost context is added last and printed first.
  [[nodiscard]] Error in(const std::string& where) && {
    message_ = where + ": " + message_;
    return std::move(*this);
  }

 private:
  Code code_;
  std::string message_;
};

template <typename T>
class [[nodiscard]] Result {
 public:
  Result(T value) : state_(std::move(value)) {}      // NOLINT(google-explicit-constructor): return value;
  Result(Error error) : state_(std::move(error)) {}  // NOLINT(google-explicit-constructor): return error;

  [[nodiscard]] bool ok() const { return std::holds_alternative<T>(state_); }
  explicit operator bool() const { return ok(); }

  [[nodiscard]] T& value() & { return *checked(); }
  [[nodiscard]] const T& value() const& { return *const_cast<Result*>(this)->checked(); }
  [[nodiscard]] T&& value() && { return std::move(*checked()); }
  [[nodiscard]] T& operator*() & { return value(); }
  [[nodiscard]] const T& operator*() const& { return value(); }
  [[nodiscard]] T&& operator*() && { return std::move(*this).value(); }
  [[nodiscard]] T* operator->() { return checked(); }
  [[nodiscard]] const T* operator->() const { return const_cast<Result*>(this)->checked(); }

  [[nodiscard]] const Error& error() const& {
    assert(!ok());
    return *std::get_if<Error>(&state_);
  }
  [[nodiscard]] Error&& error() && {
    assert(!ok());
    return std::move(*std::get_if<Error>(&state_));
  }

  // The same result, its error (if any) told where it happened.
  [[nodiscard]] Result in(const std::string& where) && {
    if (!ok()) return std::move(*this).error().in(where);
    return std::move(*this);
  }

 private:
  T* checked() {
    assert(ok());
    return std::get_if<T>(&state_);
  }
  std::variant<T, Error> state_;
};

template <>
class [[nodiscard]] Result<void> {
 public:
  Result() = default;
  Result(Error error) : error_(std::move(error)), ok_(false) {}  // NOLINT(google-explicit-constructor)

  [[nodiscard]] bool ok() const { return ok_; }
  explicit operator bool() const { return ok_; }
  [[nodiscard]] const Error& error() const& {
    assert(!ok_);
    return error_;
  }
  [[nodiscard]] Error&& error() && {
    assert(!ok_);
    return std::move(error_);
  }
  [[nodiscard]] Result in(const std::string& where) && {
    if (!ok_) return std::move(error_).in(where);
    return {};
  }

 private:
  Error error_{Code::kInvalidInput, {}};
  bool ok_ = true;
};

}  // namespace ng

// NG_TRY(auto x, f());  binds the value of f(), or returns its error from the enclosing function.
// NG_CHECK(g());        returns the error of g(), if it has one.
#define NG_CONCAT_INNER(a, b) a##b
#define NG_CONCAT(a, b) NG_CONCAT_INNER(a, b)
#define NG_TRY(declaration, expression) NG_TRY_IMPL(NG_CONCAT(ng_result_, __COUNTER__), declaration, expression)
#define NG_TRY_IMPL(temporary, declaration, expression)                  \
  auto temporary = (expression);                                         \
  if (!temporary.ok()) return ::ng::Error(std::move(temporary).error()); \
  declaration = std::move(temporary).value()
#define NG_CHECK(expression) NG_CHECK_IMPL(NG_CONCAT(ng_check_, __COUNTER__), expression)
#define NG_CHECK_IMPL(temporary, expression)                               \
  do {                                                                     \
    auto temporary = (expression);                                         \
    if (!temporary.ok()) return ::ng::Error(std::move(temporary).error()); \
  } while (false)

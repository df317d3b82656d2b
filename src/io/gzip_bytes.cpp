#include "io/gzip_bytes.h"

#include <zlib.h>

#include <algorithm>
#include <cstring>
#include <utility>
#include <vector>

namespace ng::io {
namespace {

constexpr std::uint64_t kRestartEvery = std::uint64_t{4} << 20;
constexpr std::size_t kInputChunk = std::size_t{64} << 10;
constexpr int kGzipWindow = 15 + 16;  // zlib's way of asking for a gzip wrapper

// zlib's state points back at its z_stream, so it lives on the heap and never moves.
class Inflater {
 public:
  Inflater() { ok_ = inflateInit2(&stream_, kGzipWindow) == Z_OK; }
  Inflater(const Inflater& other) {
    auto* source = const_cast<z_stream*>(&other.stream_);  // inflateCopy only reads it
    ok_ = other.ok_ && inflateCopy(&stream_, source) == Z_OK;
  }
  Inflater& operator=(const Inflater&) = delete;
  ~Inflater() {
    if (ok_) inflateEnd(&stream_);
  }
  [[nodiscard]] z_stream& stream() { return stream_; }
  [[nodiscard]] bool ok() const { return ok_; }

 private:
  z_stream stream_{};
  bool ok_ = false;
};

class GzipBytes final : public ByteSource {
 public:
  explicit GzipBytes(std::unique_ptr<ByteSource> gzip) : gzip_(std::move(gzip)) { restart(nullptr); }

  [[nodiscard]] Result<std::size_t> read_at(std::uint64_t offset, std::span<std::byte> out) override {
    if (size_ && offset >= *size_) return std::size_t{0};
    go_back_for(offset);
    std::vector<std::byte> skipped;
    while (out_pos_ < offset && !at_end()) {
      skipped.resize(std::min<std::uint64_t>(kInputChunk, offset - out_pos_));
      NG_CHECK(inflate_some(skipped));
    }
    std::size_t done = 0;
    while (done < out.size() && !at_end()) {
      NG_TRY(const std::size_t n, inflate_some(out.subspan(done)));
      done += n;
    }
    return done;
  }
  [[nodiscard]] std::optional<std::uint64_t> size() const override { return size_; }
  [[nodiscard]] std::uint64_t size_limit() const override { return gzip_->size_limit() * 1032; }
  [[nodiscard]] Result<void> verify_to_end() override {
    std::vector<std::byte> skipped(kInputChunk);
    if (!size_ && !restarts_.empty() && restarts_.back().out_pos > out_pos_) go_back_for(restarts_.back().out_pos);
    while (!size_) NG_CHECK(inflate_some(skipped));
    return {};
  }
  [[nodiscard]] bool compressed() const override { return true; }

 private:
  [[nodiscard]] bool at_end() const { return size_ && out_pos_ >= *size_; }

  struct Restart {
    std::uint64_t out_pos;
    std::uint64_t in_pos;
    std::unique_ptr<Inflater> state;
  };

  void restart(const Restart* from) {
    inflater_ = from != nullptr ? std::make_unique<Inflater>(*from->state) : std::make_unique<Inflater>();
    out_pos_ = from != nullptr ? from->out_pos : 0;
    in_pos_ = from != nullptr ? from->in_pos : 0;
    input_left_ = {};
    ended_member_ = false;
  }

  // Chooses the nearest state at or before `offset`: where we are, a restart point, or the beginning.
  void go_back_for(std::uint64_t offset) {
    const Restart* best = nullptr;
    for (const Restart& r : restarts_)
      if (r.out_pos <= offset) best = &r;
    const bool here_is_best = out_pos_ <= offset && (best == nullptr || best->out_pos <= out_pos_);
    if (!here_is_best) restart(best);
  }

  [[nodiscard]] Result<void> refill() {
    if (!input_left_.empty()) return {};
    input_.resize(kInputChunk);
    NG_TRY(const std::size_t n, gzip_->read_at(in_pos_, input_));
    input_left_ = std::span(input_).first(n);
    return {};
  }

  // Inflates into `out` until it is full, the input chunk is used up, or the data end (size_ is set then).
  [[nodiscard]] Result<std::size_t> inflate_some(std::span<std::byte> out) {
    if (!inflater_->ok()) return Error(Code::kIo, "not enough memory to unpack the gzip file");
    NG_CHECK(refill());
    if (input_left_.empty()) {
      if (!ended_member_) return Error(Code::kCorrupt, "the gzip file is cut off: copy it again from its source");
      size_ = out_pos_;
      return std::size_t{0};
    }
    if (ended_member_) {  // whatever follows a member is another member, or zero padding
      if (input_left_[0] != std::byte{0x1f}) {
        size_ = out_pos_;
        return std::size_t{0};
      }
      inflateReset(&inflater_->stream());
      ended_member_ = false;
    }
    z_stream& z = inflater_->stream();
    // Stop at the next restart point, so that each lies at a multiple of the interval.
    const std::uint64_t to_restart = kRestartEvery - out_pos_ % kRestartEvery;
    const std::size_t room = std::min<std::uint64_t>({out.size(), to_restart, std::uint64_t{1} << 30});
    z.next_in = reinterpret_cast<Bytef*>(input_left_.data());
    z.avail_in = static_cast<uInt>(input_left_.size());
    z.next_out = reinterpret_cast<Bytef*>(out.data());
    z.avail_out = static_cast<uInt>(room);
    const int code = inflate(&z, Z_NO_FLUSH);
    const std::size_t used = input_left_.size() - z.avail_in;
    const std::size_t made = room - z.avail_out;
    input_left_ = input_left_.subspan(used);
    in_pos_ += used;
    out_pos_ += made;
    if (code == Z_STREAM_END) {
      ended_member_ = true;
    } else if (code != Z_OK && code != Z_BUF_ERROR) {
      return Error(Code::kCorrupt, "the gzip stream is damaged: copy the file again from its source");
    }
    const bool new_ground = restarts_.empty() || restarts_.back().out_pos < out_pos_;
    if (made > 0 && !ended_member_ && new_ground && out_pos_ % kRestartEvery == 0)
      restarts_.push_back({out_pos_, in_pos_, std::make_unique<Inflater>(*inflater_)});
    return made;
  }

  std::unique_ptr<ByteSource> gzip_;
  std::unique_ptr<Inflater> inflater_;
  std::vector<Restart> restarts_;
  std::vector<std::byte> input_;
  std::span<std::byte> input_left_;  // read from the file, not yet inflated
  std::uint64_t in_pos_ = 0;         // file offset of input_left_
  std::uint64_t out_pos_ = 0;        // inflated so far
  bool ended_member_ = false;
  std::optional<std::uint64_t> size_;
};

}  // namespace

std::unique_ptr<ByteSource> inflated(std::unique_ptr<ByteSource> gzip) {
  return std::make_unique<GzipBytes>(std::move(gzip));
}

}  // namespace ng::io

#include "firmware-host/book/book_files.hpp"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <array>
#include <charconv>
#include <cstddef>
#include <filesystem>
#include <span>

namespace hangtrue::book {
namespace {

std::int64_t nanoseconds(const timespec& time) {
  return std::int64_t(time.tv_sec) * 1'000'000'000 + time.tv_nsec;
}

FileStamp stamp_from(const struct stat& file) {
  return {{file.st_dev, file.st_ino},
          std::uint64_t(file.st_nlink),
          std::int64_t(file.st_size),
          nanoseconds(file.st_mtim),
          nanoseconds(file.st_ctim)};
}

using Bytes = std::span<const unsigned char>;

std::uint32_t big_endian(Bytes four) {
  return std::uint32_t(four[0]) << 24 | std::uint32_t(four[1]) << 16 | std::uint32_t(four[2]) << 8 |
         std::uint32_t(four[3]);
}

/// The checksum of the log: two sums that run over pairs of words, the words as the log's maker has them.
class Checksum {
 public:
  explicit Checksum(bool words_big_endian) : big_endian_(words_big_endian) {}
  void add(Bytes bytes) {
    for (std::size_t at = 0; at + 8 <= bytes.size(); at += 8) {
      first_ += word(bytes.subspan(at, 4)) + second_;
      second_ += word(bytes.subspan(at + 4, 4)) + first_;
    }
  }
  /// Whether these eight bytes say the same, which they do with the high byte first.
  [[nodiscard]] bool is(Bytes eight) const {
    return big_endian(eight.first(4)) == first_ && big_endian(eight.subspan(4, 4)) == second_;
  }

 private:
  [[nodiscard]] std::uint32_t word(Bytes four) const {
    if (big_endian_) return big_endian(four);
    return std::uint32_t(four[3]) << 24 | std::uint32_t(four[2]) << 16 | std::uint32_t(four[1]) << 8 |
           std::uint32_t(four[0]);
  }
  bool big_endian_;
  std::uint32_t first_ = 0, second_ = 0;
};

/// So many bytes from there; fewer at the end of the file.
std::size_t read_at(int descriptor, std::span<unsigned char> to, std::int64_t at) {
  std::size_t read = 0;
  while (read < to.size()) {
    const ssize_t more = ::pread(descriptor, to.data() + read, to.size() - read, at + std::int64_t(read));
    if (more <= 0) break;
    read += std::size_t(more);
  }
  return read;
}

constexpr std::size_t kLogHeader = 32, kFrameHeader = 24;

int whole_frames(int descriptor) {
  std::array<unsigned char, kLogHeader> header{};
  if (read_at(descriptor, header, 0) != header.size()) return 0;
  const Bytes head(header);
  const std::uint32_t magic = big_endian(head.first(4)), page = big_endian(head.subspan(8, 4));
  if ((magic & ~1U) != 0x377F0682U || page < 512 || page > 65536) return 0;
  Checksum sum((magic & 1U) != 0);
  sum.add(head.first(24));
  if (!sum.is(head.subspan(24, 8))) return 0;
  // Several frames at a time: one read of the system a frame would cost more than its checksum.
  constexpr std::size_t kAtOnce = 64;
  const std::size_t frame = kFrameHeader + page;
  std::vector<unsigned char> many(frame * kAtOnce);
  int walked = 0, whole = 0;
  for (std::int64_t at = kLogHeader;;) {
    const std::size_t read = read_at(descriptor, many, at);
    for (std::size_t from = 0; from + frame <= read; from += frame) {
      const Bytes one = Bytes(many).subspan(from, frame);
      if (!std::equal(one.begin() + 8, one.begin() + 16, head.begin() + 16)) return whole;  // the salts
      sum.add(one.first(8));
      sum.add(one.subspan(kFrameHeader));
      if (!sum.is(one.subspan(16, 8))) return whole;
      ++walked;
      if (big_endian(one.subspan(4, 4)) != 0) whole = walked;  // the size of the file after a transaction
    }
    if (read < many.size()) return whole;
    at += std::int64_t(read);
  }
}

}  // namespace

std::optional<FileStamp> stamp_of(const std::string& path) {
  struct stat file {};
  if (::stat(path.c_str(), &file) != 0) return std::nullopt;
  return stamp_from(file);
}

std::optional<FileStamp> stamp_of(int descriptor) {
  struct stat file {};
  if (::fstat(descriptor, &file) != 0) return std::nullopt;
  return stamp_from(file);
}

std::vector<int> open_to_write(FileId file) {
  std::vector<int> found;
  std::error_code error;
  for (const auto& entry : std::filesystem::directory_iterator("/proc/self/fd", error)) {
    const std::string name = entry.path().filename().string();
    int descriptor = -1;
    if (std::from_chars(name.data(), name.data() + name.size(), descriptor).ec != std::errc()) continue;
    const auto stamp = stamp_of(descriptor);
    if (!stamp || stamp->id != file) continue;
    const int flags = ::fcntl(descriptor, F_GETFL);
    if (flags >= 0 && (flags & O_ACCMODE) == O_RDWR) found.push_back(descriptor);
  }
  return found;
}

std::string real_path(const std::string& path) {
  std::error_code error;
  const std::filesystem::path whole = std::filesystem::absolute(path, error);
  if (error) return path;
  const std::filesystem::path real = std::filesystem::weakly_canonical(whole, error);
  return error ? path : real.string();
}

int whole_frames(const std::string& log_path) {
  const int descriptor = ::open(log_path.c_str(), O_RDONLY | O_CLOEXEC);
  if (descriptor < 0) return 0;
  const int whole = whole_frames(descriptor);
  ::close(descriptor);  // it was only read
  return whole;
}

}  // namespace hangtrue::book

// book_files.hpp: which file is which, whatever it is called, and what lies in a write-ahead log. For book/ only.
//
// Why      a name can be given to another file while the book is open. What was written is safe only while the file at the
//          path is the one that is open, and while its log is there whole.
// Log      the form is SQLite's: "Database File Format", section 4, "The Write-Ahead Log" (sqlite.org/fileformat2.html): a header
//          of 32 bytes, then frames of 24 bytes and a page. Each frame carries the header's two salts and a running checksum over
//          all before it, so that a frame that was cut off, overwritten or left from before ends the log.
#pragma once

#include <sys/types.h>

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

namespace hangtrue::book {

struct FileId {
  dev_t device = 0;
  ino_t inode = 0;
  friend bool operator==(const FileId&, const FileId&) = default;
};

/// What the file system says of a file. Whoever writes in it changes `written_ns`.
struct FileStamp {
  FileId id;
  std::uint64_t links = 0;  // names that it has
  std::int64_t size = 0;
  std::int64_t written_ns = 0;  // when its content was last written, since 1970
  std::int64_t changed_ns = 0;  // the same of anything about it; nobody can set this one
  friend bool operator==(const FileStamp&, const FileStamp&) = default;
};

/// Of the file that the name leads to, through links; nothing where there is none.
[[nodiscard]] std::optional<FileStamp> stamp_of(const std::string& path);
[[nodiscard]] std::optional<FileStamp> stamp_of(int descriptor);

/// The descriptors by which this process has that file open to write. They belong to who opened them: a second one of our own
/// would, when it is closed, take SQLite's locks on the file away.
[[nodiscard]] std::vector<int> open_to_write(FileId file);

/// The name without links in it; as it is where it leads nowhere.
[[nodiscard]] std::string real_path(const std::string& path);

/// How many frames of the log are there whole, up to the last that ends a transaction.
[[nodiscard]] int whole_frames(const std::string& log_path);

}  // namespace hangtrue::book

// verified.hpp: a note outside of the book that this file was walked and found whole. For book/ only.
//
// Bound to   the file (device and inode), its size, when it was last written and when anything about it changed, the same of its
//            log, and the last entry's number and hash. Nobody can set the time of the last change (ctime): whoever writes in the
//            file, by whatever name and with whatever time put back, makes the note void.
// Where      in the directory for caches of who runs the program (XDG Base Directory Specification: $XDG_CACHE_HOME, else
//            $HOME/.cache), hangtrue/verified, readable for that person alone. So who can write the book cannot write the note.
// Limits     it is as good as that clock. A book on a file system without times of change is walked each time.
#pragma once

#include <chrono>
#include <optional>
#include <string>

#include "firmware-host/book/book.hpp"
#include "firmware-host/book/book_files.hpp"

namespace hangtrue::book {

struct Verified {
  FileStamp file;
  std::optional<FileStamp> log;  // none, or an empty one
  int schema = 0;
  Number entries = 0;
  std::string hash;      // of the last
  bool settled = false;  // when these stamps were taken, a change would have told; not in the note
};

/// The file and its log as they lie there; nothing where there is no file.
[[nodiscard]] std::optional<Verified> stamps_of(const std::string& real_path);
[[nodiscard]] bool same_files(const Verified& a, const Verified& b);

/// The note on that file; nothing where there is none that can be read.
[[nodiscard]] std::optional<Verified> verified_note(FileId file);
/// Keeps it, where that can be done; else the book is walked again the next time.
void keep_verified_note(const Verified& verified);

/// Whether a change of the files from now on has another time than their last one: the system's times have steps.
[[nodiscard]] bool changes_tell(const Verified& files);

/// Shorter books are walked each time, which takes less than a tenth of a second. No source.
inline constexpr Number kLeastToNote = 2000;
inline constexpr std::int64_t kLongFile = 500'000;  // bytes, fewer than so many entries have
/// Two steps of the system's times: a step is at most 10 ms (a kernel of 100 Hz).
inline constexpr std::chrono::milliseconds kChangesTell{20};

}  // namespace hangtrue::book

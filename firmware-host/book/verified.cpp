#include "firmware-host/book/verified.hpp"

#include <pwd.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <chrono>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>

#include <nlohmann/json.hpp>

namespace hangtrue::book {
namespace {

using Json = nlohmann::json;

/// The directory for the notes; empty where this person has none.
std::filesystem::path directory() {
  const auto absolute = [](const char* path) { return path != nullptr && *path == '/'; };
  if (const char* const caches = std::getenv("XDG_CACHE_HOME"); absolute(caches))
    return std::filesystem::path(caches) / "hangtrue" / "verified";
  const char* home = std::getenv("HOME");
  if (!absolute(home)) {
    const passwd* const person = ::getpwuid(::geteuid());
    home = person != nullptr ? person->pw_dir : nullptr;
  }
  if (!absolute(home)) return {};
  return std::filesystem::path(home) / ".cache" / "hangtrue" / "verified";
}

std::filesystem::path note_of(FileId file) {
  const std::filesystem::path notes = directory();
  return notes.empty() ? notes : notes / (std::to_string(file.device) + '-' + std::to_string(file.inode));
}

Json json_of(const FileStamp& stamp) {
  return {stamp.id.device, stamp.id.inode, stamp.links, stamp.size, stamp.written_ns, stamp.changed_ns};
}
FileStamp stamp_from(const Json& json) {
  return {{json.at(0).get<dev_t>(), json.at(1).get<ino_t>()},
          json.at(2).get<std::uint64_t>(),
          json.at(3).get<std::int64_t>(),
          json.at(4).get<std::int64_t>(),
          json.at(5).get<std::int64_t>()};
}

constexpr std::size_t kLongestNote = 4096;

}  // namespace

std::optional<Verified> stamps_of(const std::string& real_path) {
  const auto file = stamp_of(real_path);
  if (!file) return std::nullopt;
  Verified found;
  found.file = *file;
  found.log = stamp_of(real_path + "-wal");
  if (found.log && found.log->size == 0) found.log.reset();
  return found;
}

bool same_files(const Verified& a, const Verified& b) { return a.file == b.file && a.log == b.log; }

std::optional<Verified> verified_note(FileId of) {
  const std::filesystem::path note = note_of(of);
  struct stat is {};
  // One that somebody else wrote is none.
  if (note.empty() || ::lstat(note.c_str(), &is) != 0 || !S_ISREG(is.st_mode) || is.st_uid != ::geteuid() ||
      is.st_size > static_cast<off_t>(kLongestNote))
    return std::nullopt;
  std::ifstream file(note, std::ios::binary);
  const std::string text{std::istreambuf_iterator<char>(file), {}};
  try {
    const Json json = Json::parse(text);
    Verified found;
    found.file = stamp_from(json.at("file"));
    if (!json.at("log").is_null()) found.log = stamp_from(json.at("log"));
    found.schema = json.at("schema").get<int>();
    found.entries = json.at("entries").get<Number>();
    found.hash = json.at("hash").get<std::string>();
    return found;
  } catch (const Json::exception&) {
    return std::nullopt;  // walked again
  }
}

void keep_verified_note(const Verified& verified) {
  const std::filesystem::path note = note_of(verified.file.id);
  if (note.empty()) return;
  std::error_code error;  // without a note the book is walked again, which is all that can happen
  std::filesystem::create_directories(note.parent_path(), error);
  std::filesystem::permissions(note.parent_path(), std::filesystem::perms::owner_all, error);
  Json json{{"file", json_of(verified.file)},
            {"log", nullptr},
            {"schema", verified.schema},
            {"entries", verified.entries},
            {"hash", verified.hash}};
  if (verified.log) json["log"] = json_of(*verified.log);
  std::string making = note.string() + ".XXXXXX";
  const int descriptor = ::mkstemp(making.data());
  if (descriptor < 0) return;
  const std::string text = json.dump();
  const bool written = ::write(descriptor, text.data(), text.size()) == static_cast<ssize_t>(text.size());
  ::close(descriptor);
  if (!written || ::rename(making.c_str(), note.c_str()) != 0) ::unlink(making.c_str());
}

bool changes_tell(const Verified& files) {
  std::int64_t changed_ns = files.file.changed_ns;
  if (files.log) changed_ns = std::max(changed_ns, files.log->changed_ns);
  return std::chrono::system_clock::now().time_since_epoch() - std::chrono::nanoseconds(changed_ns) >
         kChangesTell;  // never of a time in the future
}

}  // namespace hangtrue::book

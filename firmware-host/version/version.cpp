#include "firmware-host/version/version.hpp"

#include "firmware-host/book/book.hpp"

namespace hangtrue {

extern const char* const kCommit;  // commit.cmake writes it

std::string_view version() { return HANGTRUE_VERSION; }
std::string_view commit() { return kCommit; }

std::string version_text(std::string_view program) {
  const std::string schema = std::to_string(book::kSchema);
  return std::string(program) + ' ' + std::string(version()) +
         (commit().empty() ? ", commit not known" : ", commit " + std::string(commit())) +
         "\nlevel book: writes schema " + schema + ", reads 1 to " + schema + "\nJSON: form " +
         std::to_string(kJsonForm) + ", as data/interfaces.md has it";
}

}  // namespace hangtrue

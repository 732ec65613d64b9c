// new_file.hpp: a file that is there whole or not at all.
#pragma once

#include <string>
#include <string_view>

namespace hangtrue::tools {

/// Refuses (Stop) what must not be written over: what is no regular file, a level book and what lies beside it, and, without
/// `over`, any file. A first look: NewFile::keep() makes sure of it.
void check_place(const std::string& path, const std::string& book_path, bool over);

/// A file under another name beside its place, until keep() gives it its own; without keep() it is gone. Stop with
/// kCouldNot where it cannot be written.
class NewFile {
 public:
  explicit NewFile(std::string path);
  ~NewFile();
  NewFile(const NewFile&) = delete;
  NewFile& operator=(const NewFile&) = delete;

  void write(std::string_view bytes);
  void keep(bool over);

 private:
  [[noreturn]] void fail() const;
  std::string path_, making_;
  int descriptor_ = -1;
};

}  // namespace hangtrue::tools

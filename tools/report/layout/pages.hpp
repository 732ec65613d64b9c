// pages.hpp: a document set on pages, and the pages as PDF, SVG or PNG from one drawing (Cairo, Pango).
//
// Fonts    kFont, embedded as subsets; letters it lacks come from whatever else is installed.
// Same     the same document gives the same bytes: the date is the document's, not the clock's.
// PDF      1.5, with title, author, subject, dates and an outline. It is no PDF/A and does not claim to be: Cairo 1.16 writes
//          neither the metadata nor the output intent that PDF/A asks for.
// Errors   Unset where the font is missing or the library fails. Nothing has been written anywhere by then.
#pragma once

#include <memory>
#include <stdexcept>
#include <string>

#include "tools/report/layout/document.hpp"

namespace hangtrue::report {

inline constexpr double kPngPerInch = 150;

struct Unset : std::runtime_error {
  using std::runtime_error::runtime_error;
};

class Pages {
 public:
  explicit Pages(const Document& document);
  ~Pages();
  Pages(const Pages&) = delete;
  Pages& operator=(const Pages&) = delete;

  [[nodiscard]] int count() const;
  [[nodiscard]] std::string pdf() const;
  [[nodiscard]] std::string svg(int page) const;
  [[nodiscard]] std::string png(int page) const;

 private:
  struct Work;
  std::unique_ptr<Work> work_;
};

}  // namespace hangtrue::report

// page.hpp: a document set on pages, and the pages as PDF, SVG or PNG from one drawing (Cairo, Pango).
//
// Fonts    kFont, embedded as subsets; letters it lacks come from whatever else is installed.
// Same     the same document gives the same bytes: the date is the document's, not the clock's.
// PDF      1.5, with title, author, subject, dates and an outline. No PDF/A: Cairo 1.16 writes neither its metadata nor an
//          output intent, and we do not claim what is not so.
// Errors   Unset where a font is missing or the library fails; nothing is written anywhere by then.
#pragma once

#include <memory>
#include <stdexcept>
#include <string>
#include <vector>

#include "tools/report/document.hpp"

namespace hangtrue::report {

inline constexpr const char* kFont = "Open Sans";
inline constexpr const char* kFontPackage = "fonts-open-sans";
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

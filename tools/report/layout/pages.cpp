#include "tools/report/layout/pages.hpp"

#include <cairo-pdf.h>
#include <cairo-svg.h>

#include <cmath>
#include <utility>

#include <fmt/format.h>

#include "tools/report/layout/ink.hpp"
#include "tools/report/layout/setting.hpp"

#ifdef __SANITIZE_ADDRESS__
// Fontconfig refers to what it keeps by offsets, which a search for pointers takes for leaks.
extern "C" const char* __lsan_default_suppressions();
extern "C" const char* __lsan_default_suppressions() { return "leak:libfontconfig\n"; }
#endif

namespace hangtrue::report {

struct Pages::Work {
  const Document document;
  const Setting setting{document};

  [[nodiscard]] const Flow& flow() const { return setting.flow(); }
  void draw_page(int page, cairo_t* cairo) const {
    grey(cairo, 0);
    for (const Drawing& each : flow().pages()[std::size_t(page)]) {
      cairo_save(cairo);
      cairo_new_path(cairo);
      each(cairo);
      cairo_restore(cairo);
    }
  }
};

Pages::Pages(const Document& document) : work_(new Work{document}) {}
Pages::~Pages() = default;
int Pages::count() const { return int(work_->flow().pages().size()); }

namespace {

cairo_status_t keep(void* bytes, const unsigned char* data, unsigned length) {
  static_cast<std::string*>(bytes)->append(reinterpret_cast<const char*>(data), length);
  return CAIRO_STATUS_SUCCESS;
}

struct Surface {
  cairo_surface_t* surface;
  cairo_t* cairo = cairo_create(surface);
  explicit Surface(cairo_surface_t* on) : surface(on) {}
  Surface(const Surface&) = delete;
  Surface& operator=(const Surface&) = delete;
  ~Surface() {
    cairo_destroy(cairo);
    cairo_surface_destroy(surface);
  }
  void finish() const {
    cairo_status_t status = cairo_status(cairo);
    cairo_surface_finish(surface);
    if (status == CAIRO_STATUS_SUCCESS) status = cairo_surface_status(surface);
    if (status != CAIRO_STATUS_SUCCESS)
      throw Unset(std::string("the drawing failed: ") + cairo_status_to_string(status));
  }
};

void add_metadata(cairo_surface_t* surface, const Document& document) {
  const std::string date = document.date.substr(0, 19) + 'Z';
  for (const auto& [what, value] : {std::pair{CAIRO_PDF_METADATA_TITLE, document.title},
                                    {CAIRO_PDF_METADATA_SUBJECT, document.subject},
                                    {CAIRO_PDF_METADATA_AUTHOR, std::string("hangtrue")},
                                    {CAIRO_PDF_METADATA_CREATOR, std::string("hangtrue report")},
                                    {CAIRO_PDF_METADATA_CREATE_DATE, date},
                                    {CAIRO_PDF_METADATA_MOD_DATE, date}})
    cairo_pdf_surface_set_metadata(surface, what, value.c_str());
}

void add_outline(cairo_surface_t* surface, const Setting& setting) {
  int parent = CAIRO_PDF_OUTLINE_ROOT;
  for (const OutlineEntry& entry : setting.outline()) {
    const std::string place =
        fmt::format("page={} pos=[{:.1f} {:.1f}]", entry.page, setting.flow().left, entry.y);
    const int item =
        cairo_pdf_surface_add_outline(surface, entry.level == 1 ? int(CAIRO_PDF_OUTLINE_ROOT) : parent,
                                      entry.text.c_str(), place.c_str(), cairo_pdf_outline_flags_t(0));
    if (entry.level == 1) parent = item;
  }
}

/// What stands behind the last `before`, up to `after`; empty: it is not there.
std::string behind(const std::string& text, const std::string& before, const std::string& after) {
  const std::size_t at = text.rfind(before);
  if (at == std::string::npos) return {};
  const std::size_t from = at + before.size(), to = text.find(after, from);
  return to == std::string::npos ? std::string() : text.substr(from, to - from);
}

/// The same document with the language of its words: an incremental update (ISO 32000-1:2008, 7.5.6) that writes the catalog anew
/// with its entry Lang (14.9.2). Cairo sets none.
std::string with_language(std::string pdf, const std::string& language) {
  const std::string root = behind(pdf, "/Root ", " 0 R"), info = behind(pdf, "/Info ", " 0 R"),
                    size = behind(pdf, "/Size ", "\n"), former = behind(pdf, "startxref\n", "\n"),
                    catalog = behind(pdf, '\n' + root + " 0 obj\n<<", "endobj");
  if (root.empty() || info.empty() || size.empty() || former.empty() || catalog.empty())
    throw Unset("the document has no catalog to put its language into");
  if (pdf.back() != '\n') pdf += '\n';
  const std::size_t at = pdf.size();
  pdf += root + " 0 obj\n<< /Lang (" + language + ')' + catalog + "endobj\n";
  const std::size_t table = pdf.size();
  pdf += "xref\n" + root + fmt::format(" 1\n{:010} 00000 n \n", at) + "trailer\n<< /Size " + size +
         "\n   /Root " + root + " 0 R\n   /Info " + info + " 0 R\n   /Prev " + former + "\n>>\nstartxref\n" +
         std::to_string(table) + "\n%%EOF\n";
  return pdf;
}

}  // namespace

std::string Pages::pdf() const {
  const Flow& flow = work_->flow();
  std::string bytes;
  const Surface on(cairo_pdf_surface_create_for_stream(keep, &bytes, flow.paper_width, flow.paper_height));
  cairo_pdf_surface_restrict_to_version(on.surface, CAIRO_PDF_VERSION_1_5);
  add_metadata(on.surface, work_->document);
  add_outline(on.surface, work_->setting);
  for (int page = 0; page < count(); ++page) {
    work_->draw_page(page, on.cairo);
    cairo_show_page(on.cairo);
  }
  on.finish();
  return work_->document.language == "en" ? bytes : with_language(std::move(bytes), work_->document.language);
}

std::string Pages::svg(int page) const {
  const Flow& flow = work_->flow();
  std::string bytes;
  const Surface on(cairo_svg_surface_create_for_stream(keep, &bytes, flow.paper_width, flow.paper_height));
  cairo_svg_surface_set_document_unit(on.surface, CAIRO_SVG_UNIT_PT);
  work_->draw_page(page, on.cairo);
  cairo_show_page(on.cairo);
  on.finish();
  return bytes;
}

std::string Pages::png(int page) const {
  constexpr double kScale = kPngPerInch / 72;
  const Flow& flow = work_->flow();
  const Surface on(cairo_image_surface_create(CAIRO_FORMAT_RGB24, int(std::lround(flow.paper_width * kScale)),
                                              int(std::lround(flow.paper_height * kScale))));
  cairo_scale(on.cairo, kScale, kScale);
  cairo_set_source_rgb(on.cairo, 1, 1, 1);
  cairo_paint(on.cairo);
  work_->draw_page(page, on.cairo);
  std::string bytes;
  if (cairo_status(on.cairo) == CAIRO_STATUS_SUCCESS &&
      cairo_surface_write_to_png_stream(on.surface, keep, &bytes) != CAIRO_STATUS_SUCCESS)
    throw Unset("the picture could not be made");
  on.finish();
  return bytes;
}

}  // namespace hangtrue::report

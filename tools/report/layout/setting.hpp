// setting.hpp: sets the pieces of a document one after the other; numbers its sections, tables and figures.
#pragma once

#include <string>
#include <vector>

#include "tools/report/layout/flow.hpp"

namespace hangtrue::report {

struct OutlineEntry {
  std::string text;
  int level = 1, page = 1;
  double y = 0;
};

/// All pieces of the document, and head and foot of every page.
class Setting {
 public:
  explicit Setting(const Document& document);

  [[nodiscard]] const Flow& flow() const { return flow_; }
  [[nodiscard]] const std::vector<OutlineEntry>& outline() const { return outline_; }

 private:
  void set(const Title& title);
  void set(const Heading& heading);
  void set(const Paragraph& paragraph);
  void set(const Items& items);
  void set(const Facts& facts);
  void set(const Fields& fields);
  void set(const Box& box);
  void set(const Table& table);
  void set(Chart chart);
  void set(const PlanView& view);
  void set(const Code& code);
  void set(const NewPage& page);

  struct BoxPart {
    Text text;
    double below;
  };
  [[nodiscard]] std::vector<BoxPart> parts_of(const Box& box) const;
  [[nodiscard]] double box_height(const std::vector<BoxPart>& parts) const;
  /// Of a piece: what must stand below its heading on the same page.
  [[nodiscard]] double least_height(const Piece& piece) const;

  void set_facts(const std::vector<Fact>& rows, double wide);
  /// Beside the head of the first page, which began at `start`.
  void set_code_of_title(const Code& code, double start, double side);
  void set_head_and_foot(const Document& document);

  Flow flow_;
  const bool numbered_;
  const Words words_;
  double keeps_ = 0;  // least height of what follows a heading or a lead
  std::vector<OutlineEntry> outline_;
  int section_ = 0, subsection_ = 0, tables_ = 0, figures_ = 0;
};

}  // namespace hangtrue::report

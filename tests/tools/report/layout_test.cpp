// The layer that sets documents: what is computed before anything is drawn.
#include <gmock/gmock.h>

#include <cmath>

#include "firmware-host/sheet/number.hpp"
#include "tools/report/common/charts.hpp"
#include "tools/report/layout/pages.hpp"

namespace hangtrue::report {
namespace {

using ::testing::ElementsAre;
using ::testing::HasSubstr;

TEST(Columns, AlignAsTheirHeadingsAsk) {
  const std::vector<Column> made = columns("what|>sigma|^face|");
  ASSERT_EQ(made.size(), 4U);
  EXPECT_EQ(made[0].heading, "what");
  EXPECT_EQ(made[1].heading, "sigma");
  EXPECT_EQ(made[3].heading, "");
  EXPECT_EQ(made[0].align, Align::left);
  EXPECT_EQ(made[1].align, Align::right);
  EXPECT_EQ(made[2].align, Align::centre);
}

TEST(Ticks, StandAtRoundPlacesAndKeepTheirEnds) {
  EXPECT_DOUBLE_EQ(tick_step(4.2, 9), 0.5);
  EXPECT_DOUBLE_EQ(tick_step(9, 9), 1);
  EXPECT_DOUBLE_EQ(tick_step(10, 9), 2);
  EXPECT_THAT(ticks_between(0, 2, 0.5), ElementsAre(0, 0.5, 1, 1.5, 2));
  EXPECT_EQ(tick_label(0.5, 0.5), "0.5");
  EXPECT_EQ(tick_label(-1e-12, 0.5), "0.0") << "no minus before nothing";
  EXPECT_EQ(tick_label(40, 20), "40");
  EXPECT_EQ(day_ticks(-3, 103).front().label, "0 d");
}

TEST(Numbers, HaveNoMinusBeforeNothingAndNoDigitsOfWhatIsNotFinite) {
  EXPECT_EQ(sheet::show_number(2.5, 2), "2.50");
  EXPECT_EQ(sheet::show_number(-0.001, 2), "0.00");
  EXPECT_EQ(sheet::show_number(-0.006, 2), "-0.01");
  EXPECT_EQ(sheet::show_number(1e15, 0), "-");
  EXPECT_EQ(sheet::show_number(std::nan(""), 1), "-");
}

TEST(Pages, TableGoesOverWithItsHeadings) {
  Document document;
  document.date = "2026-09-21T08:00:00Z";
  Table table{"Many rows", columns("number|name"), {}};
  for (int i = 0; i < 100; ++i) table.rows.push_back({{std::to_string(i), "row"}});
  document.add(std::move(table));
  const Pages pages(document);
  EXPECT_EQ(pages.count(), 3);
  EXPECT_THAT(pages.pdf(), HasSubstr("%PDF-1.5"));
}

}  // namespace
}  // namespace hangtrue::report

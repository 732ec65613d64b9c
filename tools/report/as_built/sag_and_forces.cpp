// What the run does between its supports and on them, as fitted: sag beside its limit, forces beside ratings.
#include <algorithm>
#include <cmath>

#include "firmware-host/job/prediction.hpp"
#include "tools/report/as_built/writer.hpp"
#include "tools/report/common/charts.hpp"

namespace hangtrue::report {

namespace {

/// `predicted_m`: by the sheet alone; nothing where that cannot be solved.
Row span_row(const AsBuiltWriter& of, const job::Span& span, std::optional<double> predicted_m) {
  constexpr double kMostShown = 99999;
  const std::optional<double>& ratio = of.run.tolerance.span_ratio;
  const bool limited = ratio && !span.overhang, sags = span.sag_m > 0 && std::isfinite(span.ratio());
  return {{(span.overhang ? of.said("beyond the support, ") : std::string()) +
               of.text("{} to {}", of.place(span.from_m), of.place(span.to_m)),
           predicted_m ? of.number(*predicted_m) : "-", of.number(span.sag_m),
           sags ? of.plain(std::min(span.ratio(), kMostShown), 0) : "-",
           limited ? of.text("span / {}", of.plain(*ratio, 0)) : of.said("none"),
           limited ? of.limit_source() : "-",
           of.said(!limited                 ? "for information"
                   : span.ratio() >= *ratio ? "within"
                                            : "OVER")}};
}

/// `predicted_N`: by the sheet alone; nothing where that cannot be solved.
Row force_row(const AsBuiltWriter& of, std::size_t support, const beam::SupportAction<double>& now,
              std::optional<double> predicted_N) {
  const std::optional<double> rating = of.run.supports[support].rating_N;
  const double size = std::abs(now.force_N);
  return {{letter(support), of.run.supports[support].name,
           predicted_N ? sheet::show_force(*predicted_N, of.show) : "-",
           now.engaged ? sheet::show_force(now.force_N, of.show) : of.said("lifted: carries nothing"),
           sheet::show_couple(now.moment_Nm, of.show), sheet::show_couple(now.torque_Nm, of.show),
           rating ? sheet::show_force(*rating, of.show) : of.said("none stated"),
           rating ? of.percentage(size / *rating) + (size > *rating ? ' ' + of.said("OVER") : "") : "-"}};
}

}  // namespace

void AsBuiltWriter::levels() {
  document.add(Heading{said("Sag beside its limit")});
  if (!shape.solved()) {
    document.add(Paragraph{said("The run could not be solved at what was fitted.")});
    return;
  }
  const job::SolvedRun predicted(run);
  Table table{
      said("Sag of each span below the line between its supports"),
      columns(text("span|>sheet {0}|>fitted {0}|>span / sag|limit|source of the limit|finding", unit())),
      {}};
  for (const int stage : stages_shown()) {
    table.rows.push_back(stage_row(stage));
    const std::vector<job::Span> now = job::spans(run, shape.solver(), stage);
    const std::vector<job::Span> sheet =
        predicted.trouble() ? std::vector<job::Span>{} : job::spans(run, predicted.solver(), stage);
    for (std::size_t i = 0; i < now.size(); ++i)
      table.rows.push_back(
          span_row(*this, now[i], sheet.size() == now.size() ? std::optional(sheet[i].sag_m) : std::nullopt));
  }
  double widest = 0;
  for (const auto& station : fit.stations) widest = std::max(widest, station.height_less_mean_sigma_m);
  table.note = text(
      "Sag as fitted includes bow and what supports that stand high or low bend into the span; beyond the "
      "last support it is how far the end lies below that support, so that tilt counts; a negative one "
      "rises. The largest standard uncertainty of a height, less the mean, is {}.",
      sigma(widest));
  document.add(std::move(table));
}

void AsBuiltWriter::forces() {
  document.add(Heading{said("What the supports carry")});
  if (!shape.solved()) return;
  const job::SolvedRun predicted(run);
  Table table{said("Forces on the run, up positive"),
              columns(said("|support|>sheet|>fitted|>couple|>torque|>rating|>of rating")),
              {}};
  for (const int stage : stages_shown()) {
    table.rows.push_back(stage_row(stage));
    for (std::size_t i = 0; i < run.supports.size(); ++i) {
      if (!run.beam_stages[std::size_t(stage)].lists_support(int(i))) continue;
      std::optional<double> predicted_N;
      if (!predicted.trouble()) predicted_N = predicted.solver().support(stage, int(i)).force_N;
      table.rows.push_back(force_row(*this, i, shape.solver().support(stage, int(i)), predicted_N));
    }
  }
  table.note = said(
      "Found from shape, stiffness and loads, not weighed; shown to help, no design verification. Couple: "
      "positive in the sense of a climbing "
      "run; torque: positive where it lifts the left edge.");
  document.add(std::move(table));
}

}  // namespace hangtrue::report

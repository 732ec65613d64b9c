#include "tools/report/common/kit.hpp"

#include <algorithm>

#include "firmware-host/say/checks.hpp"
#include "firmware-host/say/words.hpp"
#include "tools/report/common/figures.hpp"

namespace hangtrue::report {

namespace {

std::string calibration_words(const sheet::KitInstrument& instrument, const Figures& figures) {
  const auto& stated = instrument.calibration;
  if (!stated) return figures.said("NO CALIBRATION STATED");
  return figures.text("calibrated {}",
                      stated->date.empty() ? figures.said("on a date not stated") : stated->date) +
         (stated->due.empty() ? std::string() : figures.text(", due {}", stated->due)) +
         (stated->certificate.empty() ? figures.said(", no certificate named")
                                      : figures.text(", certificate {}", stated->certificate));
}

std::string speech(const sheet::KitInstrument& instrument, const Figures& figures) {
  switch (instrument.speaks) {
    case sheet::Speaks::xdr:
      return figures.said("XDR sentences");
    case sheet::Speaks::modbus:
      return figures.text("Modbus RTU, address {}", instrument.address);
    case sheet::Speaks::line:
      return figures.said("lines of text");
  }
  return "";
}

std::string sigma_words(const sheet::KitChannel& channel, double sigma, const Figures& figures) {
  if (!is_measured_of_run(channel.gives) || !(sigma > 0)) return "-";
  return channel.gives == Channel::distance ? figures.sigma(sigma) : figures.slope(sigma);
}

std::string range_words(const sheet::KitChannel& channel, const Figures& figures) {
  if (!channel.range_from || !channel.range_to) return "-";
  const auto shown = [&](double value) {
    return channel.gives == Channel::distance ? figures.place(value) : sheet::show_slope(value, figures.show);
  };
  return figures.text("{} to {}", shown(*channel.range_from), shown(*channel.range_to));
}

Table instruments_of(const sheet::KitSheet& kit, const Papers& papers, const Figures& figures) {
  Table table{
      figures.text("Instruments of survey {} (kit sheet {})", papers.booked.record.begun.id, papers.kit_file),
      columns(figures.said("gives|>sigma of one reading|>sigma of zero, unchecked|>feet apart|>range")),
      {}};
  for (const sheet::KitInstrument& instrument : kit.instruments) {
    table.rows.push_back({{instrument_mark(&kit, instrument.name) + "   " + instrument.name + ": " +
                           calibration_words(instrument, figures) + " (" + speech(instrument, figures) + ")"},
                          true});
    for (const sheet::KitChannel& channel : instrument.channels)
      table.rows.push_back(
          {{say::channel_words(channel.gives, figures.show), sigma_words(channel, channel.sigma, figures),
            sigma_words(channel, channel.zero_sigma, figures),
            channel.base_m > 0 ? figures.place(channel.base_m) : "-", range_words(channel, figures)}});
  }
  return table;
}

std::string counts_words(bool counts, const Figures& figures) {
  return figures.said(counts ? "yes" : "no, a later one does");
}

Row row_of(const book::ZeroCheck& zero, const book::NumberedEntry& entry, const sheet::KitSheet& kit,
           const job::Checks& counted, const Figures& figures) {
  const bool counts =
      std::any_of(counted.zeros.begin(), counted.zeros.end(), [&](const job::CheckedZero& it) {
        return it.channel.instrument == zero.instrument && word(it.channel.channel) == zero.channel &&
               it.time == entry.entry.time;
      });
  return {{std::to_string(entry.number), say::date_of(entry.entry.time),
           figures.text("zero of {} {}, {} pairs of faces", instrument_mark(&kit, zero.instrument),
                        figures.said(zero.channel), zero.face_1.size()),
           figures.slope(zero.zero), figures.slope(zero.sigma),
           zero.temperature_C ? say::temperature_words(*zero.temperature_C, figures.show) : "-",
           counts_words(counts, figures)},
          false,
          !counts};
}

Row row_of(const book::DatumCheck& datum, const book::NumberedEntry& entry, const sheet::KitSheet& kit,
           const job::Checks& counted, const Figures& figures) {
  const bool counts =
      std::any_of(counted.tilts.begin(), counted.tilts.end(), [&](const job::CheckedTilt& it) {
        return it.instrument == datum.instrument && it.time == entry.entry.time;
      });
  return {{std::to_string(entry.number), say::date_of(entry.entry.time),
           figures.text("datum tilt of {}, {} to {}", instrument_mark(&kit, datum.instrument),
                        figures.place(datum.near_m), figures.place(datum.far_m)),
           figures.slope(datum.tilt_rad), figures.slope(datum.sigma_rad),
           datum.temperature_C ? say::temperature_words(*datum.temperature_C, figures.show) : "-",
           counts_words(counts, figures)},
          false,
          !counts};
}

Row row_of(const book::ScaleCheck& scale, const book::NumberedEntry& entry, const sheet::KitSheet& kit,
           const job::Checks& counted, const Figures& figures) {
  const bool counts =
      scale.sound &&
      std::any_of(counted.scales.begin(), counted.scales.end(), [&](const job::CheckedScale& it) {
        return it.channel.instrument == scale.instrument && word(it.channel.channel) == scale.channel &&
               it.time == entry.entry.time;
      });
  return {
      {std::to_string(entry.number), say::date_of(entry.entry.time),
       scale.feet_m > 0
           ? figures.text("scale of {} {}, by a piece of {}", instrument_mark(&kit, scale.instrument),
                          figures.said(scale.channel), figures.length(scale.length_m))
           : figures.text("scale of {} {}, by two places {} apart", instrument_mark(&kit, scale.instrument),
                          figures.said(scale.channel), figures.length(scale.length_m)),
       figures.plain(scale.scale, 3), figures.plain(scale.sigma, 3),
       scale.temperature_C ? say::temperature_words(*scale.temperature_C, figures.show) : "-",
       scale.sound ? counts_words(counts, figures) : figures.said("no, it failed")},
      false,
      !counts};
}

}  // namespace

std::string instrument_mark(const sheet::KitSheet* kit, const std::string& name) {
  if (kit != nullptr)
    for (std::size_t i = 0; i < kit->instruments.size(); ++i)
      if (kit->instruments[i].name == name) return "K" + std::to_string(i + 1);
  return name;
}

void add_kit(Document& document, const sheet::RunSheet& run, const Papers& papers, const Record& record,
             bool with_warnings) {
  if (!papers.kit) {
    document.add(Paragraph{
        say::said(run.show, "The level book holds no kit sheet that can be read for this survey.")});
    return;
  }
  const sheet::KitSheet& kit = *papers.kit;
  const Figures figures{run.show};
  document.add(instruments_of(kit, papers, figures));

  const job::Checks& counted = papers.booked.checks;
  Table checks{figures.said("Checks of the instruments in the level book, up to this survey"),
               columns(figures.said(">entry|date|what|>found|>\xC2\xB1|>at|counts")),
               {}};
  for (const book::NumberedEntry& each : record.checks) {
    if (each.number > papers.booked.record.last) continue;
    if (const auto* const zero = std::get_if<book::ZeroCheck>(&each.entry.content))
      checks.rows.push_back(row_of(*zero, each, kit, counted, figures));
    else if (const auto* const datum = std::get_if<book::DatumCheck>(&each.entry.content))
      checks.rows.push_back(row_of(*datum, each, kit, counted, figures));
    else if (const auto* const scale = std::get_if<book::ScaleCheck>(&each.entry.content))
      checks.rows.push_back(row_of(*scale, each, kit, counted, figures));
  }
  if (checks.rows.empty())
    document.add(Paragraph{
        figures.said(
            "The level book holds no check of these instruments up to this survey: zero errors and the "
            "datum's tilt are known beforehand only as well as the sheets state, and beyond that from the "
            "survey itself (both faces, several set-ups)."),
        figures.said("Not checked.")});
  else
    document.add(std::move(checks));
  if (with_warnings && !counted.warnings.empty()) {
    document.add(Paragraph{"", figures.said("What to know of the kit")});
    document.add(Items{say::warnings(counted.warnings, run.show)});
  }
}

}  // namespace hangtrue::report

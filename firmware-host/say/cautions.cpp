#include "firmware-host/say/cautions.hpp"

#include "firmware-host/say/language.hpp"
#include "firmware-host/say/table.hpp"

namespace hangtrue::say {

const std::vector<std::string>& caution_sentences() {
  static const std::vector<std::string> sentences{
      "Keep lifts or props under the run until every final bolt is tight and checked by a second person.",
      "Nobody under a run that hangs on one support.", "Moving one support moves load to the others.",
      "This speaks of level alone, not of strength: anchors, welds, bolts and framing are for those licensed "
      "for it, "
      "under the local code.",
      "Never look into a laser."};
  return sentences;
}

std::vector<std::string> caution_sentences(sheet::Show show) {
  std::vector<std::string> sentences = caution_sentences();
  for (std::string& each : sentences) each = said(show, each);
  return sentences;
}

std::string cautions() {
  std::string text = "CAUTION ";
  for (const std::string& sentence : caution_sentences()) text += ' ' + sentence;
  return folded(text, 9);
}

}  // namespace hangtrue::say

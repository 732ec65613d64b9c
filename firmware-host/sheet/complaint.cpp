#include "firmware-host/sheet/complaint.hpp"

namespace hangtrue::sheet {

std::string Complaint::text() const {
  std::string text = file;
  if (line > 0) text += ":" + std::to_string(line);
  text += ": ";
  if (!key.empty()) text += key + ": ";
  text += "found " + found + ", expected " + expected;
  return text;
}

std::string text(const std::vector<Complaint>& complaints) {
  std::string all;
  for (const Complaint& complaint : complaints) all += complaint.text() + "\n";
  return all;
}

}  // namespace hangtrue::sheet

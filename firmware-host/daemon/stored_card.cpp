#include "firmware-host/daemon/stored_card.hpp"

#include <nlohmann/json.hpp>

#include "firmware-host/page/json.hpp"

namespace hangtrue::daemon {

Result<StoredCard, std::string> read_card(nlohmann::ordered_json card) {
  if (const auto moves = card.find("moves"); moves != card.end() && moves->is_array())
    for (nlohmann::ordered_json& move : *moves)
      if (move.is_object()) move.emplace("when_stage", nullptr);  // where it is not there already
  page::JsonReader reader(page::Others::passed_over);
  StoredCard stored;
  reader.read(card, stored, "the card");
  if (!reader.ok())
    return "This card cannot be used, since it is not whole: " + reader.says() +
           ". An older program may have stored it. Make no move by it; read again makes a new card.";
  return stored;
}

}  // namespace hangtrue::daemon

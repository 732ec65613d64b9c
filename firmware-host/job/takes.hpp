// takes.hpp: which readings of a survey were taken in one go at one place, so that they are mended in one act.
//
// Append   What one command took is one append to the book: entries without a gap. Before the next, raw samples were written.
// Take     One append; with the next one, where that was taken at the same place, edges and set-up, and its inclinometers were
//          turned round meanwhile. So a take is all channels on both faces. A distance has no face: it goes with the append.
// Corrected  Places are those that the last correction says: what was said wrongly of one face alone parts the two.
#pragma once

#include <cstddef>
#include <span>
#include <vector>

#include "firmware-host/book/book.hpp"

namespace hangtrue::job {

/// Places in `booked`, which is in the order of the book, by take.
[[nodiscard]] std::vector<std::vector<std::size_t>> takes_of(std::span<const book::BookedReading> booked);

}  // namespace hangtrue::job

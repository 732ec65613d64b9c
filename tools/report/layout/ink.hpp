// ink.hpp: grey, rules and QR codes on a page.
#pragma once

#include <cairo.h>

#include "firmware-host/book/qr_code.hpp"

namespace hangtrue::report {

/// 0: black, 1: white.
void grey(cairo_t* cairo, double level);
/// A level line; black afterwards.
void rule(cairo_t* cairo, double from, double to, double y, double weight, double level = 0);
/// With its quiet margin, which is part of `side`.
void draw_code(cairo_t* cairo, const book::QrCode& code, double x, double y, double side);

}  // namespace hangtrue::report

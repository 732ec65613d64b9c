// table.hpp: a table set into the flow: widths of its columns, its headings on every page, rows that break between lines.
#pragma once

#include <string>

#include "tools/report/layout/flow.hpp"

namespace hangtrue::report {

/// `name`: "Table 3", before its caption; empty: no caption.
void set_table(Flow& flow, const Table& table, const std::string& name);

}  // namespace hangtrue::report

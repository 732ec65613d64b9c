// What a node hands over, as it is read. The whole of "take kept" is played with an emulated node (tests/firmware-host/node/job_test.py).
#include "firmware-host/daemon/kept_readings.hpp"

#include <gtest/gtest.h>

namespace hangtrue::daemon {
namespace {

// The form is that of firmware-host/node/node.hpp; the sentence was made by hand.
TEST(KeptEntry, IsReadFieldByField) {
  const auto entry = kept_entry("$HTLOG,17,3,0.0004001230,0.0000200000,-0.0001994000,0.0000210000,20.5*00");
  ASSERT_TRUE(entry);
  EXPECT_EQ(entry->number, 17u);
  EXPECT_EQ(entry->station, 3);
  EXPECT_DOUBLE_EQ(entry->slope, 0.000400123);
  EXPECT_DOUBLE_EQ(entry->slope_sigma, 0.00002);
  EXPECT_DOUBLE_EQ(entry->roll_rad, -0.0001994);
  EXPECT_DOUBLE_EQ(entry->roll_sigma_rad, 0.000021);
  EXPECT_DOUBLE_EQ(entry->temperature_C, 20.5);
}

TEST(KeptEntry, WhatIsNoneIsNotRead) {
  for (const char* sentence :
       {"$HTRDG,17,3,0.0004,0.00002,-0.0002,0.00002,20.5*00", "$HTLOG,17,3,0.0004,0.00002,-0.0002,0.00002*00",
        "$HTLOG,17,3,0.0004,0.00002,-0.0002,0.00002,20.5,1*00",
        "$HTLOG,0,3,0.0004,0.00002,-0.0002,0.00002,20.5*00",
        "$HTLOG,17,-1,0.0004,0.00002,-0.0002,0.00002,20.5*00",
        "$HTLOG,17,3,nan,0.00002,-0.0002,0.00002,20.5*00",
        "$HTLOG,17,3,0.0004,-0.00002,-0.0002,0.00002,20.5*00", "$HTLOG,17,3,,0.00002,-0.0002,0.00002,20.5*00",
        "$*00"})
    EXPECT_FALSE(kept_entry(sentence)) << sentence;
}

}  // namespace
}  // namespace hangtrue::daemon

#include "copunctal/server/encode.h"

#include <gtest/gtest.h>

#include <limits>
#include <nlohmann/json.hpp>

#include "copunctal/base/expects.h"
#include "copunctal/store/sample_records.h"

using namespace copunctal;
using nlohmann::json;

namespace {

SittingState running() {
  return {.sitting = "s",
          .practical = "p",
          .practical_name = "Montag, Gruppe \"Ü\"",
          .ended = false,
          .tell = Tell::dont_tell,
          .size_px = 640,
          .exposure_ms = 3000,
          .grace_ms = 10'000,
          .family = SymbolFamily::digits,
          .symbols = {"1", "2"},
          .answered = 1,
          .round = RoundState{"first", 2, 4, 1, {{1, "a", true}, {2, "b", false}}}};
}

SittingOutcome told() {
  Debrief debrief;
  debrief.verdict = "cannot tell";
  debrief.evidence = {{"normal", -3.1, 1.0}};
  debrief.kinds = {{"normal", 0.95, 0.4, 0.9}};
  debrief.protan_separation = {{0, 0.1}};
  debrief.assumptions = {"one", "two"};
  DebriefPlate vanishing;
  vanishing.name = "calm river";
  vanishing.kind = "vanishing";
  vanishing.aim = "dichromat";
  vanishing.drawn = {"4"};
  vanishing.predictions = {{"protan:0", "nothing", 0.01, 0, 0.97, 0.02, "m"}};
  DebriefPlate fork;
  fork.kind = "fork";
  fork.drawn = {"2", "7"};
  fork.predictions = {{"protan:0", "7", 0.01, 0.98, 0, 0.01, "m"}};
  debrief.plates = {vanishing, fork};
  return {.told = true,
          .can_choose = false,
          .intended_use = "teaching",
          .whom_to_see = "somebody",
          .debrief = debrief,
          .shown = {{1, "first", "answered"}, {12, "which-kind", "late"}},
          .again = {}};
}

}  // namespace

TEST(Encode, writes_a_running_sitting) {
  const json state = json::parse(json_of(running()));
  EXPECT_EQ(state["practical_name"], "Montag, Gruppe \"Ü\"");
  EXPECT_EQ(state["state"], "running");
  EXPECT_EQ(state["tell"], "dont_tell");
  EXPECT_EQ(state["family"], "digits");
  EXPECT_EQ(state["symbols"], (json::array({"1", "2"})));
  EXPECT_EQ(state["round"]["name"], "first");
  EXPECT_EQ(state["round"]["of"], 4);
  EXPECT_EQ(state["round"]["items"],
            json::parse(R"([{"item":1,"plate":"a","answered":true,"repeat":false},
                            {"item":2,"plate":"b","answered":false,"repeat":false}])"));
}

TEST(Encode, writes_an_ended_sitting_and_a_receipt) {
  SittingState ended = running();
  ended.ended = true;
  ended.round = std::nullopt;
  const json receipt = json::parse(json_of(AnswerReceipt{true, ended}));
  EXPECT_EQ(receipt["status"], "duplicate");
  EXPECT_EQ(receipt["state"]["state"], "ended");
  EXPECT_TRUE(receipt["state"].at("round").is_null());
  EXPECT_EQ(json::parse(json_of(AnswerReceipt{false, ended}))["status"], "stored");
}

TEST(Encode, writes_lists_of_any_length_as_lists) {
  EXPECT_EQ(json::parse(json_of(std::vector<PracticalSummary>{})),
            json::parse(R"({"practicals":[]})"));
  PracticalSummary one;
  one.name = "Monday";
  const json list = json::parse(json_of(std::vector{one, one}));
  ASSERT_EQ(list["practicals"].size(), 2U);
  EXPECT_EQ(list["practicals"][1]["name"], "Monday");
  EXPECT_FALSE(list["practicals"][0]["intended_use"].get<std::string>().empty());
}

TEST(Encode, writes_an_outcome_that_is_told) {
  const json outcome = json::parse(json_of(told()));
  EXPECT_EQ(outcome["told"], true);
  EXPECT_EQ(outcome["caution"]["intended_use"], "teaching");
  EXPECT_EQ(outcome["evidence"][0]["log10_likelihood"], -3.1);
  EXPECT_EQ(outcome["kinds"][0]["evidence_only"], 0.4);
  EXPECT_EQ(outcome["separation"]["protan"][0]["probability"], 0.1);
  EXPECT_TRUE(outcome["separation"]["deutan"].is_array());
  EXPECT_EQ(outcome["assumptions"].size(), 2U);
  const json& vanishing = outcome["plates"][0];
  EXPECT_EQ(vanishing["item"], 1);
  EXPECT_EQ(vanishing["aim"], "dichromat");
  EXPECT_EQ(vanishing["drawn"], json::array({"4"}));
  EXPECT_TRUE(vanishing["predictions"][0].at("second").is_null());
  const json& fork = outcome["plates"][1];
  EXPECT_TRUE(fork.at("aim").is_null());
  EXPECT_EQ(fork["round"], "which-kind");
  EXPECT_EQ(fork["end"], "late");
  EXPECT_EQ(fork["predictions"][0]["second"], 0.98);
}

TEST(Encode, says_nothing_more_to_who_did_not_ask) {
  SittingOutcome quiet = told();
  quiet.told = false;
  quiet.can_choose = true;
  quiet.debrief = std::nullopt;
  EXPECT_EQ(json::parse(json_of(quiet)),
            json::parse(R"({"told":false,"can_choose":true,"waits":false,
      "caution":{"intended_use":"teaching","whom_to_see":"somebody"}})"));
}

TEST(Encode, never_writes_a_number_that_is_none) {
  SittingOutcome outcome = told();
  outcome.debrief->evidence[0].log10_likelihood = -std::numeric_limits<double>::infinity();
  EXPECT_THROW(json_of(outcome), ContractViolation);
}

TEST(Encode, writes_a_display_record) {
  const CheckedDisplay checked = judged(sample_display_record(), "2030-01-02T03:04:05.678Z");
  const json record = json::parse(json_of(checked));
  EXPECT_EQ(record["record"], sample_id(1));
  EXPECT_EQ(record["valid"], true);
  EXPECT_TRUE(record["ended"].is_null());
  EXPECT_EQ(record["tone"]["r"].size(), 2U);
  EXPECT_TRUE(record["tone"]["g"].is_null()) << "not compared";
  EXPECT_EQ(record["findings"].size(), 9U);
  for (const json& finding : record["findings"])
    EXPECT_TRUE(finding["state"] == "fine" || finding["state"] == "note" ||
                finding["state"] == "mend");
  EXPECT_EQ(record["asked"]["screen_px"], json({1920, 1080}));
  EXPECT_EQ(record["asked"]["tone_matches"][0],
            json({{"channel", "r"}, {"share", 0.5}, {"code", 188}}));
  EXPECT_EQ(json::parse(json_of(std::optional<CheckedDisplay>(checked)))["current"], record);
  EXPECT_EQ(json_of(std::optional<CheckedDisplay>()), R"({"current":null})");

  DisplayRecord bare = sample_display_record();
  bare.check = {};
  bare.ended = "mode";
  const json empty = json::parse(json_of(judged(bare, "2030-01-02T03:04:05.678Z")));
  EXPECT_TRUE(empty["tone"].is_null());
  EXPECT_TRUE(empty["pixels_per_mm"].is_null());
  EXPECT_EQ(empty["ended"], "mode");
  EXPECT_EQ(empty["asked"]["tone_matches"], json::array());
}

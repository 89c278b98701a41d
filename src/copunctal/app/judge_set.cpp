#include "copunctal/app/judge_set.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include <fmt/format.h>

#include "copunctal/base/expects.h"
#include "copunctal/plate/mosaic.h"

namespace copunctal {
namespace {

bool is_read(double probability) {
  return probability >= 0.5;
}

}  // namespace

std::string_view name_of(Meant meant) {
  switch (meant) {
    case Meant::read:
      return "read";
    case Meant::not_read:
      return "not read";
    case Meant::free:
      return "free";
  }
  return {};
}

std::string_view name_of(Standing standing) {
  switch (standing) {
    case Standing::not_asked:
      return "not asked";
    case Standing::as_meant:
      return "as meant";
    case Standing::doubtful:
      return "doubtful";
    case Standing::not_as_meant:
      return "not as meant";
  }
  return {};
}

bool SecondOpinion::disagree() const {
  return judge.verdict == (is_read(reader) ? JudgeVerdict::invisible : JudgeVerdict::visible);
}

std::vector<std::string> PlateJudgement::disagreements() const {
  std::vector<std::string> sentences;
  for (std::size_t f = 0; f < figures.size(); ++f)
    for (const SecondOpinion& opinion : figures[f])
      if (opinion.disagree())
        sentences.push_back(fmt::format(
            "{} {}: {} by our reader ({:.0f} %), {} to the judge (d' {:.1f})", opinion.observer,
            symbols[f], is_read(opinion.reader) ? "read" : "not read", 100 * opinion.reader,
            name_of(opinion.judge.verdict), opinion.judge.together));
  return sentences;
}

Meant meant_of(const Plate& plate, std::size_t figure, JudgeEye eye) {
  const bool dichromat = eye == JudgeEye::protanope || eye == JudgeEye::deuteranope;
  const bool anomalous = eye == JudgeEye::protanomalous || eye == JudgeEye::deuteranomalous;
  switch (plate.kind) {
    case PlateKind::opener:
      return Meant::read;
    case PlateKind::vanishing:
      if (dichromat) return Meant::not_read;
      // The judge's anomalous eyes have 10 and 6 nm: only plates aimed at 10 nm speak of both.
      if (anomalous) return plate.aim == Aim::ten_nm ? Meant::not_read : Meant::free;
      return Meant::read;
    case PlateKind::fork: {
      const bool own = figure == 0
                           ? eye == JudgeEye::protanope || eye == JudgeEye::protanomalous
                           : eye == JudgeEye::deuteranope || eye == JudgeEye::deuteranomalous;
      if (own) return Meant::read;
      if (dichromat) return Meant::not_read;
      return anomalous ? Meant::free : Meant::read;
    }
    case PlateKind::tritan:
      return eye == JudgeEye::tritanope ? Meant::not_read : Meant::read;
    case PlateKind::transformation:
    case PlateKind::hidden:
    case PlateKind::ladder:
      break;
  }
  return Meant::free;
}

Standing worse_of(Meant meant, double reader, JudgeVerdict judge) {
  if (meant == Meant::free) return Standing::not_asked;
  const bool wanted = meant == Meant::read;
  const JudgeVerdict against = wanted ? JudgeVerdict::invisible : JudgeVerdict::visible;
  if (is_read(reader) != wanted || judge == against) return Standing::not_as_meant;
  return judge == JudgeVerdict::marginal ? Standing::doubtful : Standing::as_meant;
}

JudgePlate judge_plate_of(const Plate& plate) {
  const std::size_t levels = plate.codes.front().size();
  const Assignment assignment = assign(mosaic_of(plate), plate.figures, plate.seed, levels);
  std::vector<JudgePart> parts;
  for (const auto& codes : plate.codes) {
    expects(codes.size() == levels);
    parts.push_back({{codes.begin(), codes.end()}, std::vector<std::size_t>(levels)});
  }
  for (std::size_t pebble = 0; pebble < assignment.part.size(); ++pebble)
    ++parts[assignment.part[pebble]].counts[assignment.level[pebble]];
  // Of two figures in one place, the pebbles of both belong to each.
  if (parts.size() == 4) {
    for (const std::size_t figure : {1U, 2U}) {
      parts[figure].codes.insert(parts[figure].codes.end(), parts[3].codes.begin(),
                                 parts[3].codes.end());
      parts[figure].counts.insert(parts[figure].counts.end(), parts[3].counts.begin(),
                                  parts[3].counts.end());
    }
    parts.pop_back();
  }
  return {parts.front(), {parts.begin() + 1, parts.end()}};
}

JudgeScreen judge_screen_of(const Display& display) {
  JudgeScreen screen;
  for (std::size_t p = 0; p < 3; ++p) {
    screen.primaries[p] = {display.chromaticities[p].x, display.chromaticities[p].y};
    screen.light[p] = display.curves[p].code_table();
  }
  screen.white = {display.white.x, display.white.y};
  screen.veil =
      (display.black_cd_m2 + display.ambient_lux * display.reflectance / std::numbers::pi) /
      display.peak_cd_m2;
  return screen;
}

PlateJudgement judgement_of(const Plate& plate, const JudgePlate& judged, const JudgeScreen& screen,
                            const std::vector<std::vector<double>>& reader,
                            const JudgeConstants& constants) {
  const auto findings = judge_plate(judged, screen, constants);
  expects(reader.size() == findings.size() && findings.size() == plate.figures.size());
  PlateJudgement judgement;
  for (std::size_t f = 0; f < findings.size(); ++f) {
    expects(reader[f].size() == judge_eyes.size());
    judgement.symbols.push_back(plate.figures[f].symbol);
    std::vector<SecondOpinion>& opinions = judgement.figures.emplace_back();
    for (std::size_t e = 0; e < judge_eyes.size(); ++e) {
      SecondOpinion& opinion = opinions.emplace_back();
      opinion.observer = observer_name_of(judge_eyes[e]);
      opinion.judge = findings[f][e];
      opinion.reader = reader[f][e];
      opinion.meant = meant_of(plate, f, judge_eyes[e]);
      opinion.worse = worse_of(opinion.meant, opinion.reader, opinion.judge.verdict);
      judgement.worse = std::max(judgement.worse, opinion.worse);
    }
  }
  return judgement;
}

}  // namespace copunctal

#include "copunctal/server/router.h"

#include <gtest/gtest.h>

using namespace copunctal;

namespace {

Handler says(std::string word) {
  return [word](const Request&, const PathParts& parts) {
    Response response;
    response.text = word;
    for (const auto part : parts) response.text += "," + std::string(part);
    return response;
  };
}

struct Routes : testing::Test {
  Router router;
  std::string allowed;
  Asker asker;

  void SetUp() override {
    router.add(Access::anyone, "GET", "/", says("start"));
    router.add(Access::anyone, "GET", "/a/:x/b/:y", says("pair"));
    router.add(Access::anyone, "PUT", "/a/:x", says("put"));
    router.add(Access::anyone, "DELETE", "/a/:x", says("delete"));
    router.add(Access::participant, "GET", "/joined", says("joined"));
    router.add(Access::own_sitting, "GET", "/sittings/:id", says("sitting"));
    router.add(Access::instructor, "GET", "/sets", says("sets"));
    router.add(Access::instructor, "DELETE", "/joined", says("no more"));
  }
  Answered<Response> ask(std::string method, std::string target) {
    allowed.clear();
    Request request;
    request.method = std::move(method);
    request.target = std::move(target);
    return router.answer(request, asker, allowed);
  }
  int status(std::string method, std::string target) {
    const auto answer = ask(std::move(method), std::move(target));
    return answer ? answer->status : answer.error().status;
  }
};

}  // namespace

TEST_F(Routes, hand_the_named_parts_over_in_order) {
  EXPECT_EQ(ask("GET", "/a/1/b/2")->text, "pair,1,2");
  EXPECT_EQ(ask("GET", "/a/1/b/2?c=3")->text, "pair,1,2");
  EXPECT_EQ(ask("PUT", "/a/z")->text, "put,z");
  EXPECT_EQ(ask("GET", "/")->text, "start");
  EXPECT_EQ(ask("GET", "/?x")->text, "start");
}

TEST_F(Routes, answer_head_like_get) {
  EXPECT_EQ(ask("HEAD", "/a/1/b/2")->text, "pair,1,2");
}

TEST_F(Routes, know_no_path_but_their_own) {
  for (const char* target : {"", "a", "/a", "/a/", "/a//b/2", "/a/1/b/", "/a/1/b/2/", "/A/1/b/2",
                             "//", "/a/1/../1/b/2", "/%61/1/b/2", "*", "http://x/a/1"})
    EXPECT_EQ(status("GET", target), 404) << target;
}

TEST_F(Routes, name_the_methods_that_a_path_has) {
  EXPECT_EQ(status("POST", "/a/1"), 405);
  EXPECT_EQ(allowed, "PUT, DELETE");
  EXPECT_EQ(status("TRACE", "/"), 405);
  EXPECT_EQ(allowed, "GET");
  EXPECT_EQ(status("HEAD", "/a/1"), 405);
}

TEST_F(Routes, of_the_instructor_are_not_there_for_others) {
  for (const Role role : {Role::nobody, Role::participant}) {
    asker.role = role;
    for (const char* method : {"GET", "HEAD", "PUT", "DELETE", "TRACE"})
      EXPECT_EQ(status(method, "/sets"), 404) << method;
    EXPECT_EQ(status("DELETE", "/joined"), 405);
    EXPECT_EQ(allowed, "GET") << "a method for the instructor alone is not named";
  }
  asker.role = Role::instructor;
  EXPECT_EQ(ask("GET", "/sets")->text, "sets");
  EXPECT_EQ(ask("DELETE", "/joined")->text, "no more");
  EXPECT_EQ(status("PUT", "/sets"), 405);
}

TEST_F(Routes, of_participants_ask_others_to_join) {
  EXPECT_EQ(status("GET", "/joined"), 401);
  EXPECT_EQ(status("GET", "/sittings/x"), 401);
  EXPECT_EQ(status("GET", "/"), 200);
  asker.role = Role::participant;
  EXPECT_EQ(status("GET", "/joined"), 200);
  asker.role = Role::instructor;
  EXPECT_EQ(status("GET", "/joined"), 200);
  EXPECT_EQ(ask("GET", "/sittings/x")->text, "sitting,x") << "the instructor owns none, sees all";
}

TEST_F(Routes, of_a_sitting_answer_as_if_another_persons_did_not_exist) {
  std::vector<std::string> taken;
  asker.role = Role::participant;
  asker.may_have = [](std::string_view sitting) { return sitting != "theirs"; };
  asker.takes = [&](std::string_view sitting) { taken.emplace_back(sitting); };
  EXPECT_EQ(ask("GET", "/sittings/mine")->text, "sitting,mine");
  EXPECT_EQ(ask("GET", "/sittings/theirs")->text, "sitting," + std::string(32, '0'));
  EXPECT_EQ(taken, std::vector<std::string>{"mine"});

  router.add(Access::own_sitting, "PUT", "/sittings/:id",
             [](const Request&, const PathParts&) -> Answered<Response> {
               return refuse(409, "sitting", "no", "no");
             });
  EXPECT_EQ(status("PUT", "/sittings/other"), 409);
  EXPECT_EQ(taken.size(), 1U) << "what is refused takes nothing";
}

TEST_F(Routes, say_who_may_ask_them) {
  const auto table = router.access_table();
  ASSERT_EQ(table.size(), 8U);
  EXPECT_EQ(table[1].path, "/a/:x/b/:y");
  EXPECT_EQ(name_of(table.front().access), "anyone");
  EXPECT_EQ(table[4].path, "/joined");
  EXPECT_EQ(name_of(table[4].access), "participant");
  EXPECT_EQ(table[5].path, "/sittings/:id");
  EXPECT_EQ(name_of(table[5].access), "own sitting");
  EXPECT_EQ(name_of(table[6].access), "instructor");
}

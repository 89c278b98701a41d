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

  void SetUp() override {
    router.add("GET", "/", says("start"));
    router.add("GET", "/a/:x/b/:y", says("pair"));
    router.add("PUT", "/a/:x", says("put"));
    router.add("DELETE", "/a/:x", says("delete"));
  }
  Answered<Response> ask(std::string method, std::string target) {
    allowed.clear();
    Request request;
    request.method = std::move(method);
    request.target = std::move(target);
    return router.answer(request, allowed);
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

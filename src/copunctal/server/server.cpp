// The one translation unit that knows Beast and Asio.
//
// Arguments reach coroutines as parameters of named functions, never as captures: g++ 12 destroys
// a capturing lambda inside a co_await expression twice.
#include "copunctal/server/server.h"

#include <atomic>
#include <boost/asio/as_tuple.hpp>
#include <boost/asio/awaitable.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/ip/v6_only.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/signal_set.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/strand.hpp>
#include <boost/asio/thread_pool.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/beast/core.hpp>
#include <boost/beast/http.hpp>
#include <csignal>
#include <list>
#include <memory>
#include <mutex>
#include <set>
#include <string>
#include <thread>
#include <vector>

#include "copunctal/server/guard.h"
#include "copunctal/server/refusal.h"

namespace copunctal {
namespace {

namespace asio = boost::asio;
namespace beast = boost::beast;
namespace http = boost::beast::http;
using asio::ip::tcp;
using boost::system::error_code;

constexpr auto with_code = asio::as_tuple(asio::use_awaitable);
constexpr std::chrono::seconds refused_body_drain{2};
constexpr std::size_t read_size = 4096;

using RequestParser = http::request_parser<http::string_body>;

struct Connection {
  explicit Connection(tcp::socket socket) : stream(std::move(socket)) {}
  beast::tcp_stream stream;
  beast::flat_buffer buffer{2 * static_cast<std::size_t>(largest_header)};
  bool is_idle = false;  ///< Waiting for a request to begin. Touched on the strand only.
};

Request request_in(RequestParser& parser) {
  const auto& message = parser.get();
  Request request;
  request.method = message.method_string();
  request.target = message.target();
  for (const auto& field : message) {
    std::string name = field.name_string();
    for (char& c : name) c = c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
    request.headers.emplace_back(std::move(name), field.value());
  }
  request.body = std::move(parser.get().body());
  return request;
}

/// Whether a target is the route that takes pictures, whatever it asks.
bool is_picture_target(std::string_view target) {
  return target.substr(0, target.find('?')) == picture_path;
}

/// What to say to bytes that are no acceptable request; status 0: nothing, just hang up.
Refusal refusal_of_bytes(error_code trouble) {
  if (trouble == http::error::body_limit)
    return {413,
            Error{Error::Kind::usage, "the request is larger than 1 MB (a picture: than 20 MB)",
                  "body", "", "send less at once"}};
  if (trouble == http::error::header_limit || trouble == http::error::buffer_overflow)
    return {400, Error{Error::Kind::usage, "the request's header is too long", "header", "",
                       "send fewer or shorter headers"}};
  const bool is_grammar =
      trouble.category() == http::make_error_code(http::error::bad_method).category() &&
      trouble != http::error::end_of_stream && trouble != http::error::partial_message;
  if (is_grammar)
    return {400, Error{Error::Kind::usage, "this is not a proper HTTP request", "request", "",
                       "use a web browser"}};
  return {0, Error{Error::Kind::io, ""}};
}

asio::awaitable<Response> compute(const Site& site, Request request, std::uint16_t port) {
  co_return site.answer(request, port);
}

/// The server's parts; lives on serve()'s stack.
class Service {
 public:
  Service(const Site& site, const ServerOptions& options)
      : site_(site),
        options_(options),
        control_(asio::make_strand(io_)),
        signals_(control_, SIGINT, SIGTERM),
        drain_timer_(control_),
        pool_(options.handlers) {}

  Result<void> bind();
  std::uint16_t port() const { return port_; }
  void run();

 private:
  Result<void> listen_on(const tcp::endpoint& endpoint);
  asio::awaitable<void> accept(tcp::acceptor& acceptor);
  asio::awaitable<void> converse(std::shared_ptr<Connection> connection);
  asio::awaitable<bool> serve_one(Connection& connection);
  asio::awaitable<bool> await_request(Connection& connection);
  asio::awaitable<bool> invite_body(Connection& connection, const RequestParser& parser);
  asio::awaitable<void> refuse_bytes(Connection& connection, error_code trouble);
  asio::awaitable<bool> write(Connection& connection, const Response& response, unsigned version,
                              bool keep_alive, bool with_body);
  asio::awaitable<void> hang_up(Connection& connection);
  void stop();
  void join(const std::shared_ptr<Connection>& connection);
  void leave(const std::shared_ptr<Connection>& connection);

  const Site& site_;
  const ServerOptions& options_;
  asio::io_context io_;
  asio::strand<asio::io_context::executor_type> control_;  // accepting and stopping, one at a time
  std::list<tcp::acceptor> acceptors_;
  asio::signal_set signals_;
  asio::steady_timer drain_timer_;
  std::uint16_t port_ = 0;
  std::atomic<bool> is_stopping_ = false;
  std::mutex mutex_;
  std::set<std::shared_ptr<Connection>> connections_;
  asio::thread_pool pool_;  // last, so that it is joined while everything it calls is alive
};

Result<void> Service::bind() {
  if (auto first = listen_on({asio::ip::address_v4::loopback(), options_.port}); !first)
    return first;
  port_ = acceptors_.front().local_endpoint().port();
  // Not every machine has IPv6, and there 127.0.0.1 is enough.
  (void)listen_on({asio::ip::address_v6::loopback(), port_});
  return {};
}

Result<void> Service::listen_on(const tcp::endpoint& endpoint) {
  error_code trouble;
  tcp::acceptor acceptor(control_);
  acceptor.open(endpoint.protocol(), trouble);
  if (!trouble && endpoint.address().is_v6()) acceptor.set_option(asio::ip::v6_only(true), trouble);
  if (!trouble) acceptor.set_option(asio::socket_base::reuse_address(true), trouble);
  if (!trouble) acceptor.bind(endpoint, trouble);
  if (!trouble) acceptor.listen(asio::socket_base::max_listen_connections, trouble);
  if (!trouble) {
    acceptors_.push_back(std::move(acceptor));
    return {};
  }
  const std::string number = std::to_string(endpoint.port());
  if (trouble == asio::error::address_in_use)
    return fail(Error::Kind::io, "port " + number + " is in use by another program", "port", number,
                "choose another one with --port, or stop the other program");
  return fail(Error::Kind::io, "cannot listen on port " + number + " (" + trouble.message() + ")",
              "port", number, "choose another one with --port, at least 1024");
}

void Service::run() {
  signals_.async_wait([this](error_code trouble, int) {
    if (!trouble) stop();
  });
  for (tcp::acceptor& acceptor : acceptors_)
    asio::co_spawn(control_, accept(acceptor), asio::detached);
  const std::stop_callback on_stop(options_.stop,
                                   [this] { asio::post(control_, [this] { stop(); }); });
  std::thread second([this] { io_.run(); });
  io_.run();
  second.join();
}

void Service::stop() {
  if (is_stopping_.exchange(true)) return;
  error_code ignored;
  for (tcp::acceptor& acceptor : acceptors_) acceptor.close(ignored);
  signals_.cancel(ignored);

  const std::lock_guard lock(mutex_);
  for (const auto& connection : connections_)
    asio::post(connection->stream.get_executor(), [connection] {
      if (connection->is_idle) connection->stream.cancel();
    });
  if (connections_.empty()) return;
  drain_timer_.expires_after(options_.drain);
  drain_timer_.async_wait([this](error_code trouble) {
    if (!trouble) io_.stop();
  });
}

void Service::join(const std::shared_ptr<Connection>& connection) {
  const std::lock_guard lock(mutex_);
  connections_.insert(connection);
}

void Service::leave(const std::shared_ptr<Connection>& connection) {
  const std::lock_guard lock(mutex_);
  connections_.erase(connection);
  if (is_stopping_ && connections_.empty())
    asio::post(control_, [this] {
      error_code ignored;
      drain_timer_.cancel(ignored);
    });
}

asio::awaitable<void> Service::accept(tcp::acceptor& acceptor) {
  while (!is_stopping_) {
    auto [trouble, socket] = co_await acceptor.async_accept(asio::make_strand(io_), with_code);
    if (is_stopping_ || trouble == asio::error::operation_aborted) co_return;
    if (trouble) {  // out of file handles, say: others will be given back
      asio::steady_timer pause(control_, std::chrono::milliseconds(50));
      co_await pause.async_wait(with_code);
      continue;
    }
    error_code ignored;
    socket.set_option(tcp::no_delay(true), ignored);
    bool has_room = false;
    {
      const std::lock_guard lock(mutex_);
      has_room = connections_.size() < options_.most_connections;
    }
    if (!has_room) continue;
    auto connection = std::make_shared<Connection>(std::move(socket));
    join(connection);
    asio::co_spawn(connection->stream.get_executor(), converse(connection), asio::detached);
  }
}

asio::awaitable<void> Service::converse(std::shared_ptr<Connection> connection) {
  try {
    for (bool go_on = true; go_on;) go_on = co_await serve_one(*connection);
  } catch (const std::exception& trouble) {
    if (options_.report) options_.report(trouble.what());
  }
  error_code ignored;
  connection->stream.socket().shutdown(tcp::socket::shutdown_both, ignored);
  connection->stream.socket().close(ignored);
  leave(connection);
}

/// Answers one request; whether the connection may bring another.
asio::awaitable<bool> Service::serve_one(Connection& connection) {
  if (!co_await await_request(connection)) co_return false;

  RequestParser parser;
  parser.header_limit(largest_header);
  parser.body_limit(largest_picture);
  connection.stream.expires_after(options_.header);
  auto [bad_header, header_size] =
      co_await http::async_read_header(connection.stream, connection.buffer, parser, with_code);
  if (bad_header) {
    co_await refuse_bytes(connection, bad_header);
    co_return false;
  }
  // One route takes more than the others.
  if (parser.get().method() != http::verb::post || !is_picture_target(parser.get().target())) {
    parser.body_limit(largest_body);
    if (parser.content_length().value_or(0) > largest_body) {
      co_await refuse_bytes(connection, http::make_error_code(http::error::body_limit));
      co_return false;
    }
  }
  connection.stream.expires_after(options_.body);
  if (!co_await invite_body(connection, parser)) co_return false;
  auto [bad_body, body_size] =
      co_await http::async_read(connection.stream, connection.buffer, parser, with_code);
  if (bad_body) {
    co_await refuse_bytes(connection, bad_body);
    co_return false;
  }

  const unsigned version = parser.get().version();
  const bool keep_alive = parser.get().keep_alive();
  const bool with_body = parser.get().method() != http::verb::head;
  connection.stream.expires_never();
  const Response response = co_await asio::co_spawn(
      pool_.get_executor(), compute(site_, request_in(parser), port_), asio::use_awaitable);
  co_return co_await write(connection, response, version, keep_alive && !is_stopping_, with_body);
}

/// Waits until at least a byte of the next request is there.
asio::awaitable<bool> Service::await_request(Connection& connection) {
  if (is_stopping_) co_return false;
  if (connection.buffer.size() > 0) co_return true;
  connection.stream.expires_after(options_.idle);
  connection.is_idle = true;
  auto [trouble, size] =
      co_await connection.stream.async_read_some(connection.buffer.prepare(read_size), with_code);
  connection.is_idle = false;
  connection.buffer.commit(size);
  co_return !trouble;
}

/// Answers `Expect: 100-continue`, so that a body held back by it is sent.
asio::awaitable<bool> Service::invite_body(Connection& connection, const RequestParser& parser) {
  if (!beast::iequals(parser.get()[http::field::expect], "100-continue")) co_return true;
  http::response<http::empty_body> go_ahead(http::status::continue_, parser.get().version());
  auto [trouble, size] = co_await http::async_write(connection.stream, go_ahead, with_code);
  co_return !trouble;
}

asio::awaitable<void> Service::refuse_bytes(Connection& connection, error_code trouble) {
  constexpr unsigned http_1_1 = 11;
  const Refusal refusal = refusal_of_bytes(trouble);
  if (refusal.status == 0) co_return;
  Response response = response_for(refusal, "");
  protect(response);
  (void)co_await write(connection, response, http_1_1, false, true);
  co_await hang_up(connection);
}

/// Writes the response; whether it was written and the connection stays open.
asio::awaitable<bool> Service::write(Connection& connection, const Response& response,
                                     unsigned version, bool keep_alive, bool with_body) {
  http::response<http::span_body<const char>> message;
  message.version(version);
  message.result(static_cast<unsigned>(response.status));
  message.keep_alive(keep_alive);
  for (const auto& [name, value] : response.headers) message.insert(name, value);
  if (!response.content_type.empty()) message.set(http::field::content_type, response.content_type);
  const std::string_view body = response.body();
  if (response.status != 204) message.content_length(body.size());
  if (with_body) message.body() = {body.data(), body.size()};

  connection.stream.expires_after(options_.write);
  auto [trouble, size] = co_await http::async_write(connection.stream, message, with_code);
  co_return !trouble && keep_alive;
}

/// Lets the client read our refusal: closing with bytes of its request unread would reset the
/// connection and take the refusal with it.
asio::awaitable<void> Service::hang_up(Connection& connection) {
  error_code ignored;
  connection.stream.socket().shutdown(tcp::socket::shutdown_send, ignored);
  connection.stream.expires_after(refused_body_drain);
  std::vector<char> thrown_away(std::size_t{64} * 1024);
  for (error_code trouble; !trouble;) {
    auto [failed, size] =
        co_await connection.stream.async_read_some(asio::buffer(thrown_away), with_code);
    trouble = failed;
  }
}

}  // namespace

Result<void> serve(SittingDesk& desk, std::span<const EmbeddedFile> files,
                   const ServerOptions& options,
                   const std::function<void(std::uint16_t port)>& on_ready) {
  const Site site(desk, files, options.report, options.workshop);
  Service service(site, options);
  if (auto bound = service.bind(); !bound) return bound;
  if (on_ready) on_ready(service.port());
  service.run();
  return {};
}

}  // namespace copunctal

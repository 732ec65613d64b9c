// phone_session.hpp: from an upgrade that was found right to the phone behind it. Inside the room only.
#pragma once

#include <memory>

#include <boost/beast/http/message.hpp>
#include <boost/beast/http/string_body.hpp>

#include "firmware-host/page/connection.hpp"

namespace hangtrue::page {

using BeastRequest = boost::beast::http::request<boost::beast::http::string_body>;

[[nodiscard]] std::shared_ptr<PhoneSession> make_phone(Shared& shared, Phone phone,
                                                       boost::asio::ip::tcp::socket socket,
                                                       BeastRequest upgrade);

}  // namespace hangtrue::page

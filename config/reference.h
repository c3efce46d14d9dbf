// The parts of the documentation that follow from the code: the JSON Schema of the site file and the tables of
// its tunables. Tests hold the files under docs/ against these.
#pragma once

#include <string>

namespace riserkeep {

std::string site_schema();        // docs/formats/site.schema.json, JSON Schema 2020-12
std::string venting_reference();  // rows of docs/site-file.md, Markdown
std::string rules_reference();
std::string messages_reference();

}  // namespace riserkeep

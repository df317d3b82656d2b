// app/init_templates.h - the commented files that `init` writes. @KEY@ stands where a value goes.
#pragma once

namespace ng::app {

extern const char* const kSiteTemplate;
extern const char* const kRigTemplate;

}  // namespace ng::app

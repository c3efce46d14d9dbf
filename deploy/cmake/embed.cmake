# Puts a text file into the program: embed_text(TARGET NAME FILE) makes `extern const char* const NAME;`.
function(embed_text target name file)
  file(READ ${file} text)
  set_property(DIRECTORY APPEND PROPERTY CMAKE_CONFIGURE_DEPENDS ${file})
  set(source ${CMAKE_CURRENT_BINARY_DIR}/${name}.cpp)
  file(CONFIGURE OUTPUT ${source} @ONLY CONTENT
    "namespace riserkeep { extern const char* const ${name}; const char* const ${name} = R\"embed(@text@)embed\"; }\n")
  target_sources(${target} PRIVATE ${source})
endfunction()

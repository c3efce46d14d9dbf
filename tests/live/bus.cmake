# The bus thread against a Modbus server that is not ours.
add_executable(bus_reader bus_reader.cpp)
target_link_libraries(bus_reader PRIVATE drivers)
add_test(NAME "live: pymodbus server read by the bus thread"
         COMMAND /usr/bin/python3 ${CMAKE_CURRENT_SOURCE_DIR}/bus_pymodbus.py $<TARGET_FILE:bus_reader>)
set_tests_properties("live: pymodbus server read by the bus thread" PROPERTIES LABELS live TIMEOUT 60)

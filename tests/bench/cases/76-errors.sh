# SPDX-License-Identifier: MIT
# Error reports of the controller: its receive buffer overflows when the other
# node sends without any bit timing (which only an emulated one does).
sender_up can1
start_daemon -i can0=500000
cangen can1 -g 0 -p 10 -I 2A0 -L 8 -D i -n 3000
reports() { nodoff record status | grep -o '[0-9]* error reports' | cut -d' ' -f1; }
has_reports() { test "$(reports)" -gt 0; }
wait_for 5 has_reports
sleep 1
counted=$(reports)
check "error reports are counted" test "$counted" -gt 0
check "an overflow counts as a loss" lacks "$(nodoff record status)" ' 0 lost'
path=$(nodoff record stop | tail -1)
zstdcat "$path"/frames-*.log.zst > heard
check "they are in the recording" equal "$(grep -c ' can0 2[0-9A-F]\{7\}#' heard)" "$counted"
check "the losses, too" contains "$(cat heard)" '^DROPCOUNT'
check "the analysis of the recording knows of them" contains "$(nodoff analyse --full "$path")" '[Ll]ost'
stop_daemon
finish

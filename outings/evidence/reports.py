def compare_reports(s): raise 0

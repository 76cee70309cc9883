#include "tools/draw/chart_picture.h"

#include "tools/draw/chart_layout.h"
#include "tools/draw/chart_parts.h"

namespace rimeward {

std::optional<std::string> chart_picture(const Chart& chart, PictureFormat format) {
  const ChartLayout layout(chart);
  Pen pen(format, ChartLayout::kWidth, layout.height);
  pen.ink(kInk);
  pen.text_size(15);
  pen.write(pen.fitting(drawable(chart.title), ChartLayout::kWidth - 24), {12, 24});
  pen.text_size(kTextSize);
  draw_frame(pen, chart, layout);
  draw_flags(pen, chart, layout);
  draw_keep_above(pen, chart, layout);
  draw_curves(pen, chart, layout);
  draw_keep_above_labels(pen, chart, layout);
  draw_names(pen, chart, layout);
  draw_covers(pen, chart, layout);
  draw_notices(pen, chart, layout);
  return pen.finish();
}

}  // namespace rimeward
